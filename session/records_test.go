package session

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"testing/iotest"
)

const paperHead = "person,date,method,kind,control,dprime,sets,right,source\n"

func TestParsePaperRecords(t *testing.T) {
	d := newDesk(t).enter("Ena Sol", "Ori Vell", "Ori Vell", "Ulm Ray")
	d.do(ErasePerson{Person: "p-4"})
	records, faults := d.l.ParsePaperRecords(strings.NewReader("\ufeff"+paperHead+
		"Judge 1,2029-11-05,Triangle,control,brew diluted to 90 %,1.2,12,8,binder 3\r\n"+
		"  éna  sol ,2029-11-06,duo-trio,routine,,,6,3,binder 3\n"+
		"\n"+
		"judge 3,2029-11-06,triangle,blank,,,6,3,\"binder 3, leaf 2\"\n"), noon)
	want := []PaperRecord{
		{"p-1", "2029-11-05", "triangle", KindControl, "brew diluted to 90 %", 1.2, 12, 8, "binder 3"},
		{"p-1", "2029-11-06", "duo-trio", KindRoutine, "", 0, 6, 3, "binder 3"},
		{"p-3", "2029-11-06", "triangle", KindBlank, "", 0, 6, 3, "binder 3, leaf 2"},
	}
	if len(faults) != 0 || !slices.Equal(records, want) {
		t.Errorf("%+v, %v", records, faults)
	}
	d.do(ImportRecords{records})
	if got := d.l.PapersOf("p-1"); !slices.Equal(got, want[:2]) {
		t.Errorf("%+v", got)
	}
	for row, say := range map[string]string{
		"Judge 1,2029-11-05,triangle,control,brew diluted to 90 %,1.2,12,8,binder 3": "in the register already",
		"Nobody,2029-11-05,triangle,routine,,,12,8,x":                                `nobody on the register has the pseudonym or name "Nobody"`,
		",2029-11-05,triangle,routine,,,12,8,x":                                      "nobody on the register",
		"Ori Vell,2029-11-05,triangle,routine,,,12,8,x":                              "write the pseudonym",
		"Judge 4,2029-11-05,triangle,routine,,,12,8,x":                               "nobody on the register",
		"Judge 1,05.11.2029,triangle,routine,,,12,8,x":                               "write it as 2031-03-05",
		"Judge 1,2029-02-30,triangle,routine,,,12,8,x":                               "write it as 2031-03-05",
		"Judge 1,2029-11-05,sip,routine,,,12,8,x":                                    `no method is called "sip"`,
		"Judge 1,2029-11-05,triangle,some,,,12,8,x":                                  "write routine, control or blank",
		"Judge 1,2029-11-05,triangle,control,,,12,8,x":                               "say what differed",
		"Judge 1,2029-11-05,triangle,routine,brew,,12,8,x":                           "belong to the kind control",
		"Judge 1,2029-11-05,triangle,control,brew,much,12,8,x":                       `dprime "much" is no number`,
		"Judge 1,2029-11-05,triangle,control,brew,NaN,12,8,x":                        "outside 0 to 10",
		"Judge 1,2029-11-05,triangle,control,brew,-1,12,8,x":                         "outside 0 to 10",
		"Judge 1,2029-11-05,triangle,routine,,,many,8,x":                             `sets "many" is no whole number`,
		"Judge 1,2029-11-05,triangle,routine,,,0,0,x":                                "0 sets are outside",
		"Judge 1,2029-11-05,triangle,routine,,,12,13,x":                              "13 right of 12 triangle sets",
		"Judge 1,2029-11-05,triangle,routine,,,12,-1,x":                              "-1 right of",
		"Judge 1,2029-11-05,triangle,routine,,,12,8,":                                "source has 1 to 80 characters",
		"Judge 1,2029-11-05,triangle,routine,,,12,8,=x":                              "source has 1 to 80 characters",
		"Judge 1,2029-11-05,triangle,routine,,,12,8,notes of Ena Sol":                "the source holds “ena”, a part of a name",
		"Judge 1,2029-11-05,triangle,routine,,,12,8,folder of VÉLL":                  "the source holds “vell”",
		"Judge 1,2029-11-05,triangle,control,brew by Sol,,12,8,x":                    "the control holds “sol”",
		"Judge 1,2099-11-05,triangle,routine,,,12,8,x":                               "the date 2099-11-05 is still to come",
		"Judge 1,2029-11-05,triangle,routine,,,12,8,x,9":                             "it has 10 fields, and there are 9 columns",
		"Judge 1,2029-11-05,triangle,control,caf\xe9,1,12,8,x":                       "not written in UTF-8",
		"Judge 1,2029-11-05,triangle,control,caf�,1,12,8,x":                          "not written in UTF-8",
		"Judge 2,2029-11-05,triangle,routine,,,12,9,first":                           "line 2 has another count, 8 of 12, of this person, day,",
		"Judge 1,2029-11-05,triangle,control,brew by So\u00adl,,12,8,x":              "the control holds “sol”",
		"Judge 1,2029-11-05,triangle,control,brew by So\u200bl,,12,8,x":              "the control holds “sol”",
		"Judge 1,2029-11-05,triangle,routine,,,12,8,notes of V é l l":                "the source holds “vell”",
		"Judge 1,2029-11-05,triangle":                                                `sets "" is no whole number`,
		"Judge 2,2029-11-05,triangle,routine,,,12,8,first":                           "it says what line 2 says",
		"Judge 1,2029-11-05,triangle,routine,,,12,\"8,x":                             "nothing behind it was read",
	} {
		// The wrong row is in line 3; that before it is taken.
		records, faults := d.l.ParsePaperRecords(strings.NewReader(paperHead+"Judge 2,2029-11-05,triangle,routine,,,12,8,first\n"+row+"\n"), noon)
		if len(records) != 1 || len(faults) != 1 || faults[0].Line != 3 || !strings.Contains(faults[0].String(), say) {
			t.Errorf("%q: %d records, %v; want %q in line 3", row, len(records), faults, say)
		}
	}
	// As a spreadsheet writes it where the comma is the decimal sign, and with tabs.
	for _, sign := range []string{";", "\t"} {
		records, faults := d.l.ParsePaperRecords(strings.NewReader(strings.ReplaceAll(paperHead+
			"Judge 2,2029-11-05,triangle,control,brew diluted to 90 %,1#2,12,8,leaf 4\n", ",", sign)), noon)
		if len(faults) != 1 || !strings.Contains(faults[0].Say, `dprime "1#2" is no number`) {
			t.Errorf("%q: %v, %v", sign, records, faults)
		}
		table := strings.ReplaceAll(paperHead+"Judge 2,2029-11-05,triangle,control,brew diluted to 90 %,1#2,12,8,leaf 4\n", ",", sign)
		records, faults = d.l.ParsePaperRecords(strings.NewReader(strings.ReplaceAll(table, "#", ",")), noon)
		if len(faults) != 0 || len(records) != 1 || records[0].DPrime != 1.2 {
			t.Errorf("%q: %v, %v", sign, records, faults)
		}
	}
	for table, say := range map[string]string{
		"":                                       "line 1: the table has no line of column names: it is empty",
		"person,date\n":                          `line 1: the column "method" is missing`,
		paperHead[:len(paperHead)-1] + ",note\n": `column "note" is not known`,
		"person," + paperHead:                    `column "person" is not known, or is there twice`,
	} {
		if records, faults := d.l.ParsePaperRecords(strings.NewReader(table), noon); records != nil || len(faults) == 0 || !strings.Contains(faults[0].String(), say) {
			t.Errorf("%q: %v, want %q", table, faults, say)
		}
	}
	if _, faults := d.l.ParsePaperRecords(iotest.ErrReader(fmt.Errorf("torn")), noon); len(faults) != 1 || !strings.Contains(faults[0].Say, "torn") {
		t.Errorf("%v", faults)
	}
}

// Every row is a record or has a fault, in a table of rows of every sort.
func TestNoPaperRowIsDropped(t *testing.T) {
	d := newDesk(t).enter("Ena Sol")
	var b strings.Builder
	b.WriteString(paperHead)
	const rows = 500
	for i := range rows {
		fmt.Fprintf(&b, "Judge %d,2029-11-%02d,triangle,routine,,,%d,%d,leaf %d\n", 1+i%3/2, 1+i%31, i%7, i%5, i%400)
	}
	records, faults := d.l.ParsePaperRecords(strings.NewReader(b.String()), noon)
	if len(records)+len(faults) != rows || len(records) == 0 || len(faults) == 0 {
		t.Errorf("%d records and %d faults of %d rows", len(records), len(faults), rows)
	}
}

func TestImportIsAllOrNothing(t *testing.T) {
	d := newDesk(t).enter("Ena Sol")
	good := PaperRecord{"p-1", "2029-11-05", Triangle.Key, KindRoutine, "", 0, 12, 8, "binder 3"}
	bad := good
	bad.Right = 13
	for name, records := range map[string][]PaperRecord{
		"none": nil, "a wrong one": {good, bad}, "one twice": {good, good}, "too many": make([]PaperRecord, mostRecords+1),
	} {
		d.refuse(ImportRecords{records}, ErrRecords)
		if len(d.l.Papers) != 0 {
			t.Fatalf("%s: a part was taken", name)
		}
	}
	late := good
	late.Date = "2099-01-01"
	d.refuse(ImportRecords{[]PaperRecord{good, late}}, ErrRecords)
	other := good
	other.Person = "p-9"
	d.refuse(ImportRecords{[]PaperRecord{good, other}}, ErrNoPerson)
	d.do(ImportRecords{[]PaperRecord{good}})
	d.refuse(ImportRecords{[]PaperRecord{good}}, ErrRecords)
}
