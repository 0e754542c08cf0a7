package session

import (
	"fmt"
	"slices"
	"strings"
)

// Paper is what was written down or printed of a session while it ran: the
// digest, the head hash at the close, or both. The zero value is nothing.
type Paper struct {
	digest, head string // hexadecimal digits, 64 or the first 16
	entries      uint64 // number of the entry that the head hash is of; 0 where it is not at hand
}

// OfEntry adds the number that stands on paper beside the head hash: that of the
// entry whose hash it is, and so how many entries there were then.
func (p Paper) OfEntry(n uint64) (Paper, error) {
	if n > 0 && p.head == "" {
		return Paper{}, fmt.Errorf("number of entries %d: without the head hash that stands beside it, it says nothing", n)
	}
	p.entries = n
	return p, nil
}

// ReadPaper takes a digest and a head hash as they stand on sheets and pages:
// 64 hexadecimal digits or, in the short form, the first 16; spaces and hyphens
// between digits don't count. "" is for one that is not at hand.
func ReadPaper(digest, head string) (Paper, error) {
	var p Paper
	for _, x := range []struct {
		name, typed string
		to          *string
	}{{"digest", digest, &p.digest}, {"head hash", head, &p.head}} {
		d := strings.ToLower(strings.NewReplacer(" ", "", "-", "", "\u00a0", "").Replace(x.typed))
		if x.typed != "" && (len(d) != 16 && len(d) != 64 || strings.Trim(d, "0123456789abcdef") != "") {
			return Paper{}, fmt.Errorf("%s %q: it has 64 hexadecimal digits or, in short, 16", x.name, x.typed)
		}
		*x.to = d
	}
	return p, nil
}

// IsZero reports whether nothing was on paper.
func (p Paper) IsZero() bool { return p == Paper{} }

// paper holds the journal to what was written down.
func (v *verifier) paper(entries []Entry, p Paper) {
	if p.digest != "" {
		switch {
		case v.sealAt == 0:
			v.find(0, FoundPaper, checkSheet, "the digest on paper is of a sealed plan, and no seal stands here")
		case !strings.HasPrefix(v.Digest.String(), p.digest):
			v.find(v.sealAt, FoundPaper, checkSheet, "the digest of the seal is not the one on paper")
		default:
			v.Origin.Sealed = v.open && !v.failed[checkDigest] && !v.failed[checkDrawing]
			v.looked[checkSheet] = "the digest is the one on paper"
		}
	}
	if p.head == "" {
		return
	}
	for _, e := range entries {
		if strings.HasPrefix(e.Hash.String(), p.head) {
			v.Origin.Through = e.Seq
			v.Origin.Tasting = v.closeAt > 0 && e.Seq+1 >= v.closeAt
			v.behind(entries, e.Seq)
			if p.entries > 0 && p.entries != e.Seq {
				v.find(e.Seq, FoundPaper, checkHead, "the head hash on paper is that of this entry, and the number beside it on paper is %d", p.entries)
			}
			v.looked[checkHead] = fmt.Sprintf("the hash on paper is that of entry %d", e.Seq)
			return
		}
	}
	if n := uint64(len(entries)); n < p.entries {
		v.find(0, FoundPaper, checkHead, "no entry has the head hash on paper: it was of entry %d, and there are %s", p.entries, entriesOf(int(n)))
		return
	}
	v.find(0, FoundPaper, checkHead, "no entry has the head hash on paper: entries before it were changed, or it is missing with those after it")
}

// behind looks at the entries on both sides of the one that the head hash on paper
// is of.
func (v *verifier) behind(entries []Entry, head uint64) {
	free := func(e Entry) bool {
		return e.Kind != (*Closed)(nil).Kind() && e.Kind != (*Revealed)(nil).Kind()
	}
	var kinds []string
	count := map[string]int{}
	for _, e := range entries[head:] {
		if !free(e) {
			continue
		}
		v.Origin.Behind++
		if count[e.Kind]++; count[e.Kind] == 1 {
			kinds = append(kinds, e.Kind)
		}
	}
	for i, kind := range kinds {
		kinds[i] = fmt.Sprintf("%d %s", count[kind], kind)
	}
	v.Origin.Later = strings.Join(kinds, ", ")
	if v.closeAt > 0 && head > v.closeAt {
		v.Origin.Beyond = slices.ContainsFunc(entries[v.closeAt:head], free)
	}
}
