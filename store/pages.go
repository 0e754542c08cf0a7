package store

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"hash/fnv"
	"io"
)

// bbolt trusts every number in a file: on a damaged page it reads far outside the
// file or goes round for ever, and the program dies. So the pages are looked at
// before bbolt reads one. What is known of its format stands in this file; it is
// that of bbolt 1 (page heads, format version 2), in the machine's byte order.
const (
	pageHead      = 16 // id uint64, flags uint16, count uint16, further pages uint32
	elementHead   = 16 // of both kinds of elements
	bucketHead    = 16 // root page uint64, sequence uint64
	metaSize      = 64
	metaMagic     = 0xED0CDAED
	metaVersion   = 2
	noFreelist    = ^uint64(0)
	flagBranch    = 0x01
	flagLeaf      = 0x02
	flagFreelist  = 0x10
	elementBucket = 0x01 // a leaf element that is a bucket
)

// meta is what the page that completes a transaction says.
type meta struct {
	root, freelist, end uint64 // page numbers; end is the first one not in use
	transaction         uint64
}

func readMeta(file io.ReaderAt, at int64) (meta, bool) {
	b := make([]byte, metaSize)
	if _, err := file.ReadAt(b, at+pageHead); err != nil {
		return meta{}, false
	}
	sum := fnv.New64a()
	sum.Write(b[:metaSize-8])
	order := binary.NativeEndian
	if order.Uint32(b) != metaMagic || order.Uint32(b[4:]) != metaVersion || order.Uint64(b[metaSize-8:]) != sum.Sum64() {
		return meta{}, false
	}
	return meta{root: order.Uint64(b[16:]), freelist: order.Uint64(b[32:]), end: order.Uint64(b[40:]), transaction: order.Uint64(b[48:])}, true
}

// walker looks at all pages of one transaction.
type walker struct {
	file     io.ReaderAt
	pageSize uint64
	end      uint64
	seen     map[uint64]bool // pages that are in use
}

// checkPages returns the first thing wrong with the pages of a file: one that
// leads out of the file or back to a page already in use, an element that lies
// outside its page, keys of a page out of order, a page in use that is listed as
// free. The file must not change meanwhile.
func checkPages(file io.ReaderAt, pageSize int) error {
	m, ok := readMeta(file, 0)
	if other, ok2 := readMeta(file, int64(pageSize)); ok2 && (!ok || other.transaction > m.transaction) {
		m, ok = other, true
	}
	if !ok {
		return damaged("both pages that complete a transaction")
	}
	w := &walker{file: file, pageSize: uint64(pageSize), end: m.end, seen: map[uint64]bool{}}
	if err := w.tree(m.root); err != nil || m.freelist == noFreelist {
		return err
	}
	return w.freelist(m.freelist)
}

// read takes a page and those that belong to it into use.
func (w *walker) read(id uint64) ([]byte, error) {
	if id < 2 || id >= w.end {
		return nil, damaged("page %d: outside the file", id)
	}
	head := make([]byte, pageHead)
	if _, err := w.file.ReadAt(head, int64(id*w.pageSize)); err != nil {
		return nil, fmt.Errorf("page %d: %w", id, err)
	}
	more := uint64(binary.NativeEndian.Uint32(head[12:]))
	if binary.NativeEndian.Uint64(head) != id || more >= w.end-id {
		return nil, damaged("page %d: its head", id)
	}
	for n := id; n <= id+more; n++ {
		if w.seen[n] {
			return nil, damaged("page %d: in use twice", n)
		}
		w.seen[n] = true
	}
	b := make([]byte, (1+more)*w.pageSize)
	if _, err := w.file.ReadAt(b, int64(id*w.pageSize)); err != nil {
		return nil, fmt.Errorf("page %d: %w", id, err)
	}
	return b, nil
}

// tree looks at a page and all below it.
func (w *walker) tree(id uint64) error {
	b, err := w.read(id)
	if err != nil {
		return err
	}
	return w.elements(id, b)
}

// elements looks at the elements of page id, or of a small bucket's page that
// lies within an element of it.
func (w *walker) elements(id uint64, page []byte) error {
	order := binary.NativeEndian
	if len(page) < pageHead {
		return damaged("page %d: a bucket in it is cut short", id)
	}
	flags, count := order.Uint16(page[8:]), uint64(order.Uint16(page[10:]))
	if flags != flagLeaf && (flags != flagBranch || count == 0) {
		return damaged("page %d: its kind", id)
	}
	if pageHead+count*elementHead > uint64(len(page)) {
		return damaged("page %d: its number of elements", id)
	}
	var before []byte
	for i := range count {
		head := page[pageHead+i*elementHead:]
		pos, keySize, valueSize := order.Uint32(head), order.Uint32(head[4:]), uint32(0)
		if flags == flagLeaf {
			pos, keySize, valueSize = keySize, order.Uint32(head[8:]), order.Uint32(head[12:])
		}
		key, value, ok := cutElement(head, pos, keySize, valueSize)
		switch {
		case !ok:
			return damaged("page %d: element %d lies outside it", id, i)
		case i > 0 && bytes.Compare(before, key) >= 0:
			return damaged("page %d: element %d is out of order", id, i)
		}
		before = key
		if flags == flagBranch {
			if err := w.tree(order.Uint64(head[8:])); err != nil {
				return err
			}
			continue
		}
		if order.Uint32(head)&elementBucket == 0 {
			continue
		}
		if len(value) < bucketHead {
			return damaged("page %d: bucket %d is cut short", id, i)
		}
		var err error
		if root := order.Uint64(value); root != 0 {
			err = w.tree(root)
		} else {
			err = w.elements(id, value[bucketHead:])
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// cutElement gives an element's key and value, which stand pos bytes behind the
// beginning of its head. A key is never empty.
func cutElement(head []byte, pos, keySize, valueSize uint32) (key, value []byte, ok bool) {
	from := uint64(pos)
	mid := from + uint64(keySize)
	to := mid + uint64(valueSize)
	if from < elementHead || keySize == 0 || to > uint64(len(head)) {
		return nil, nil, false
	}
	return head[from:mid], head[mid:to], true
}

// freelist looks at the list of free pages, once all those in use are known.
func (w *walker) freelist(id uint64) error {
	b, err := w.read(id)
	if err != nil {
		return err
	}
	order := binary.NativeEndian
	ids := b[pageHead:]
	count := uint64(order.Uint16(b[10:]))
	if count == 0xFFFF { // the count does not fit, and stands before the list
		count, ids = order.Uint64(ids), ids[8:]
	}
	if order.Uint16(b[8:]) != flagFreelist || count > uint64(len(ids))/8 {
		return damaged("page %d: not a list of free pages", id)
	}
	free := map[uint64]bool{}
	for i := range count {
		n := order.Uint64(ids[8*i:])
		if n < 2 || n >= w.end || w.seen[n] || free[n] {
			return damaged("page %d, listed as free: in use, outside the file or listed twice", n)
		}
		free[n] = true
	}
	return nil
}
