package stats

import "testing"

func TestStudentAndFTailsAgainstReference(t *testing.T) {
	eachRecord(t, "k8_t_and_f_tails.csv", 157, func(r record) bool {
		df := r.int("df2")
		tolerance := 1e-12
		if df > 500 {
			tolerance = 2e-11
		}
		switch r.text("law") {
		case "t":
			r.near("tail", studentTail(r.float("x"), df), tolerance)
		case "F":
			r.near("tail", fTail(r.float("x"), r.int("df1"), df), tolerance)
		default:
			return false
		}
		return true
	})
}
