// Package store keeps journals on disk, in one bbolt file. It implements
// [session.Journal].
//
// The file holds these buckets. A name without brackets stands for itself, a
// name in brackets for as many keys as there are. A line with an arrow is a
// value, all others are buckets; numbers are big-endian.
//
//	v1
//	  version → uint64: 1, and one more for each migration done
//	  journals
//	    <journal id>
//	      <sequence number, uint64> → 32 bytes: SHA-256 of the rest; the entry's stored bytes
//	  texts
//	    <journal id>
//	      <digest, 32 bytes> → uint32: length of the salt; salt; uint32: length of the words; words (nothing at all where erased)
//	  sessions
//	    <session id> → JSON of session.Row, without the words of its reason
//	  received
//	    <session id, space, laboratory> → a session file of another laboratory, as it came, or without erased words
//	  judged
//	    <session id> → uint64: the journal's last number; the form of the rest, one byte; the session's judged sets (nothing after the number where it tells nothing)
//
// The root bucket names the schema. What an older program could not read
// without harm gets a new root bucket; smaller changes are migrations inside
// v1. A file of a newer program is refused and left as it is.
//
// Only journals, texts and received session files are kept facts. The bucket sessions is an index, and
// judged keeps what was computed; both follow from the journals: [DB.Reindex] builds the one anew and drops the other. The laboratory's own
// journal, [session.LabID], has no row in it.
//
// Every append is one transaction, on disk when Append returns: bbolt syncs the
// pages, then the page that refers to them.
package store
