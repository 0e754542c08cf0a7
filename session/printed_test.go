package session

import "testing"

// testdata/reference/c3_table_from_memory.csv holds the table as it is remembered:
// each of its rows is said to be printed, and what lies beside it is not.
func TestSizeIsPrinted(t *testing.T) {
	rows := referenceRows(t, "c3_table_from_memory.csv")
	for _, row := range rows {
		a, b, pd := number(t, row, "alpha"), number(t, row, "beta"), number(t, row, "pd")
		if !SizeIsPrinted(Triangle, 1, a, b, pd) || !SizeIsPrinted(Triangle, 1, a, 1-(1-b), pd) {
			t.Errorf("α %v, β %v, pd %v is not said to be printed", a, b, pd)
		}
		if SizeIsPrinted(DuoTrio, 1, a, b, pd) || SizeIsPrinted(Triangle, 2, a, b, pd) || SizeIsPrinted(Triangle, 1, a, b, pd+0.05) || SizeIsPrinted(Triangle, 1, a+0.02, b, pd) || SizeIsPrinted(Triangle, 1, a, b-0.0005, pd) {
			t.Errorf("beside α %v, β %v, pd %v something is said to be printed", a, b, pd)
		}
	}
	if len(rows) != 280 {
		t.Errorf("%d rows", len(rows))
	}
}
