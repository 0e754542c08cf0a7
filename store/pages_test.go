package store

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"testing"

	"oddcup/session"
)

// pageOf is what bbolt itself says of a page.
type pageOf struct {
	id, count, more int
	kind            string
}

// largeFile makes a file with branch pages, pages in a row and free pages, and
// gives its bytes, its page size and its pages as bbolt tells them.
func largeFile(tb testing.TB) (raw []byte, size int, pages []pageOf) {
	tb.Helper()
	path := filePath(tb)
	db := mustOpen(tb, path)
	c := chain{id: "tuesday"}
	long := plan("Tuesday")
	long.Tests[1].Definition = strings.Repeat("how full the coffee feels ", 1000)
	for i := range 30 {
		events := locked(20)
		if i%10 == 0 {
			events = append(events, &session.Drafted{Plan: long})
		}
		mustAppend(tb, db, c.id, c.next(tb, events...))
	}
	size = db.bolt.Info().PageSize
	tx, err := db.bolt.Begin(true)
	if err != nil {
		tb.Fatal(err)
	}
	for id := 0; ; {
		p, err := tx.Page(id)
		if err != nil {
			tb.Fatal(err)
		}
		if p == nil {
			break
		}
		page := pageOf{id, p.Count, p.OverflowCount, p.Type}
		if page.kind == "free" {
			page.more = 0 // what stands in it was never cleared
		}
		pages = append(pages, page)
		id += 1 + page.more
	}
	if err := tx.Rollback(); err != nil {
		tb.Fatal(err)
	}
	mustClose(tb, db)
	return mustRead(tb, path), size, pages
}

func TestPagesOfALargeFile(t *testing.T) {
	raw, size, pages := largeFile(t)
	kinds := map[string]int{}
	rows := 0
	for _, p := range pages {
		kinds[p.kind]++
		if p.more > 0 {
			rows++
		}
	}
	for _, kind := range []string{"branch", "leaf", "free", "freelist"} {
		if kinds[kind] == 0 {
			t.Errorf("the file has no %s page", kind)
		}
	}
	if rows == 0 {
		t.Error("the file has no pages in a row")
	}
	if err := checkPages(bytes.NewReader(raw), size); err != nil {
		t.Errorf("a whole file: %v", err)
	}
}

// Each case changes a few bytes of a page in use, of a kind that bbolt would
// follow; opening the file must name the page, and bbolt not be asked.
func TestDamagedPageIsNamed(t *testing.T) {
	raw, size, pages := largeFile(t)
	order := binary.NativeEndian
	const further, number, element = 12, 10, 16 // where they stand in a page
	put32 := func(at int, v uint32) func(page []byte) {
		return func(page []byte) { order.PutUint32(page[at:], v) }
	}
	put64 := func(at int, v uint64) func(page []byte) {
		return func(page []byte) { order.PutUint64(page[at:], v) }
	}
	inUse := 0
	for _, p := range pages {
		if p.kind == "leaf" {
			inUse = p.id
		}
	}
	for _, c := range []struct {
		name, kind string
		spoil      func(page []byte)
		say        string
	}{
		{"four thousand million more pages", "leaf", put32(further, 0xFFFFFFFF), "page %d: its head"},
		{"one more page", "leaf", put32(further, 1), "in use"},
		{"another page's number", "leaf", put64(0, 3), "page %d: its head"},
		{"a kind that there is not", "leaf", func(p []byte) { order.PutUint16(p[8:], 0x40) }, "page %d: its kind"},
		{"too many elements", "leaf", func(p []byte) { order.PutUint16(p[number:], 0xFFFE) }, "page %d: its number of elements"},
		{"a key of a thousand million bytes", "leaf", put32(element+8, 0x40000000), "page %d: element 0 lies outside it"},
		{"a value of a thousand million bytes", "leaf", put32(element+12, 0x40000000), "page %d: element 0 lies outside it"},
		{"a place far off", "leaf", put32(element+4, 0xFFFFFFF0), "page %d: element 0 lies outside it"},
		{"keys out of order", "leaf", func(p []byte) { p[element+int(order.Uint32(p[element+4:]))] = 0xFF }, "page %d: element 1 is out of order"},
		{"an entry as a bucket", "leaf", put32(element, 1), "page "},
		{"a bucket of four bytes", "leaf", func(p []byte) {
			order.PutUint32(p[element:], 1)
			order.PutUint32(p[element+12:], 4)
		}, "page %d: bucket 0 is cut short"},
		{"a branch without elements", "branch", func(p []byte) { order.PutUint16(p[number:], 0) }, "page %d: its kind"},
		{"a branch that leads out of the file", "branch", put64(element+8, 1<<40), "page 1099511627776: outside the file"},
		{"a branch that leads to the first page", "branch", put64(element+8, 0), "page 0: outside the file"},
		{"a branch's key far off", "branch", put32(element, 0x40000000), "page %d: element 0 lies outside it"},
		{"too many free pages", "freelist", func(p []byte) { order.PutUint16(p[number:], 0xFFFE) }, "page %d: not a list of free pages"},
		{"a count of free pages beyond all", "freelist", func(p []byte) {
			order.PutUint16(p[number:], 0xFFFF)
			order.PutUint64(p[element:], 1<<60)
		}, "page %d: not a list of free pages"},
		{"a list of another kind", "freelist", func(p []byte) { order.PutUint16(p[8:], 0x02) }, "page %d: not a list of free pages"},
		{"a free page outside the file", "freelist", put64(16, 1<<40), "page 1099511627776, listed as free"},
		{"a page in use", "freelist", put64(16, uint64(inUse)), fmt.Sprintf("page %d, listed as free", inUse)},
		{"a page listed twice", "freelist", func(p []byte) { copy(p[24:32], p[16:24]) }, "listed as free"},
	} {
		at := -1
		for _, p := range pages {
			// An entry's leaf with more than one element, and no row of pages.
			if p.kind == c.kind && p.more == 0 && (c.kind != "leaf" || p.count > 3) {
				at = p.id
				break
			}
		}
		if at < 0 {
			t.Fatalf("%s: no such page", c.name)
		}
		b := bytes.Clone(raw)
		c.spoil(b[at*size : (at+1)*size])
		expectDamage(t, c.name, b, strings.ReplaceAll(c.say, "%d", fmt.Sprint(at)))
	}
	// The root of a tree is reached again from below.
	for _, p := range pages {
		if p.kind == "branch" {
			b := bytes.Clone(raw)
			order.PutUint64(b[p.id*size+element+8:], uint64(p.id))
			expectDamage(t, "a branch that leads to itself", b, fmt.Sprintf("page %d: in use twice", p.id))
		}
	}
}

func expectDamage(t *testing.T, name string, raw []byte, say string) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "spoiled.oddcup")
	mustWrite(t, path, raw)
	_, err := Open(path, Options{})
	if !errors.Is(err, ErrDamaged) || !strings.Contains(err.Error(), say) ||
		!strings.HasSuffix(err.Error(), ": not as it was written: restore it from a backup, or name another file") {
		t.Errorf("%s:\n got %v\nwant %s, and what to do", name, err, say)
	}
	if !bytes.Equal(mustRead(t, path), raw) {
		t.Errorf("%s: the file was altered", name)
	}
	// It is not locked by the one that gave it up.
	if _, err := Open(path, Options{}); errors.Is(err, ErrInUse) {
		t.Errorf("%s: opened again: %v", name, err)
	}
}

// What bbolt finds and our own look does not is found by Check: here a page that
// is neither in use nor free.
func TestCheckAsksBbolt(t *testing.T) {
	raw, size, pages := largeFile(t)
	order := binary.NativeEndian
	path := filepath.Join(t.TempDir(), "spoiled.oddcup")
	for _, p := range pages {
		if p.kind == "freelist" {
			head := raw[p.id*size:]
			order.PutUint16(head[10:], order.Uint16(head[10:])-1)
		}
	}
	mustWrite(t, path, raw)
	err := mustOpenUnchecked(t, path).Check(context.Background())
	if !errors.Is(err, ErrDamaged) || !strings.Contains(err.Error(), "unreachable unfreed") {
		t.Errorf("got %v, want bbolt's own finding", err)
	}
}
