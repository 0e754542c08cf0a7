package store

import (
	"encoding/binary"
	"fmt"
	"regexp"
	"strconv"

	bolt "go.etcd.io/bbolt"
)

// The names in the file, as drawn in the package comment. They must not change.
var (
	bucketV1       = []byte("v1")
	keyVersion     = []byte("version")
	bucketJournals = []byte("journals")
	bucketTexts    = []byte("texts")
	bucketSessions = []byte("sessions")
	bucketReceived = []byte("received") // from version 2
	bucketJudged   = []byte("judged")   // from version 3
)

// migration takes the bucket v1 from one version to the next.
type migration func(v1 *bolt.Bucket) error

// migrations are in order: the first takes version 1 to version 2. One that has
// been released is never changed or taken out.
var migrations = []migration{addReceived, addJudged}

// newest is the version that a file has once all migrations are done.
func newest(list []migration) uint64 { return 1 + uint64(len(list)) }

var rootPattern = regexp.MustCompile(`^v([1-9][0-9]{0,8})$`)

// inspect gives a file's version, 0 for a file without a bucket, which a first
// start leaves that was cut off. It reads only. Its errors wrap ErrNewer or
// ErrNotADatabase and tell no path.
func inspect(tx *bolt.Tx, list []migration) (uint64, error) {
	roots := 0
	schema := uint64(0)
	err := tx.ForEach(func(name []byte, _ *bolt.Bucket) error {
		roots++
		if m := rootPattern.FindSubmatch(name); m != nil {
			n, err := strconv.ParseUint(string(m[1]), 10, 64)
			if err != nil {
				return err
			}
			schema = max(schema, n)
		}
		return nil
	})
	switch {
	case err != nil:
		return 0, err
	case roots == 0:
		return 0, nil
	case schema > 1:
		return 0, fmt.Errorf("%w (schema %d; this one reads schema 1)", ErrNewer, schema)
	}
	other := fmt.Errorf("%w (another program's database)", ErrNotADatabase)
	v1 := tx.Bucket(bucketV1)
	if v1 == nil {
		return 0, other
	}
	raw := v1.Get(keyVersion)
	if len(raw) != 8 {
		return 0, other
	}
	version := binary.BigEndian.Uint64(raw)
	if version > newest(list) {
		return 0, fmt.Errorf("%w (file version %d; this one reads up to %d)", ErrNewer, version, newest(list))
	}
	if version == 0 || roots > 1 {
		return 0, other
	}
	for _, name := range [][]byte{bucketJournals, bucketTexts, bucketSessions} {
		if v1.Bucket(name) == nil {
			return 0, other
		}
	}
	return version, nil
}

// migrate brings a file that inspect gave a version to the newest one.
func migrate(tx *bolt.Tx, version uint64, list []migration) error {
	v1, err := tx.CreateBucketIfNotExists(bucketV1)
	if err != nil {
		return err
	}
	if version == 0 {
		for _, name := range [][]byte{bucketJournals, bucketTexts, bucketSessions} {
			if _, err := v1.CreateBucket(name); err != nil {
				return err
			}
		}
		version = 1
	}
	for ; version < newest(list); version++ {
		if err := list[version-1](v1); err != nil {
			return fmt.Errorf("from version %d to %d: %w", version, version+1, err)
		}
	}
	return v1.Put(keyVersion, binary.BigEndian.AppendUint64(nil, version))
}

// buckets are the ones of v1, within a transaction. received is nil in a file of
// version 1, and judged in one before version 3, which are only met where the
// file is opened to read.
type buckets struct{ journals, texts, sessions, received, judged *bolt.Bucket }

func bucketsOf(tx *bolt.Tx) (buckets, error) {
	v1 := tx.Bucket(bucketV1)
	if v1 == nil {
		return buckets{}, damaged("bucket v1 is missing")
	}
	b := buckets{v1.Bucket(bucketJournals), v1.Bucket(bucketTexts), v1.Bucket(bucketSessions), v1.Bucket(bucketReceived), v1.Bucket(bucketJudged)}
	if b.journals == nil || b.texts == nil || b.sessions == nil {
		return b, damaged("a bucket of v1 is missing")
	}
	return b, nil
}
