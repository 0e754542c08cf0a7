package look

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// sizedPower is the power of a triangle at pd 40 % with the sizes that reach 0.80:
// 23 is the smallest, and 25 and all larger ones do (R 4.2.2, pbinom).
func sizedPower(to, planned, first, stable int) string {
	p := PowerPlot{Wanted: 0.8, Planned: planned, First: first, Stable: stable, Title: "Power", Desc: "It rises.", XLabel: "n"}
	for n := 2; n <= to; n++ {
		x, power := least(binomial(n, 1.0/3), 0.05), 0.0
		if x > 0 {
			power = upper(binomial(n, 0.4+0.6/3), x)
		}
		p.Points = append(p.Points, PowerPoint{n, power})
	}
	return string(PowerCurve(p))
}

var sizeLine = regexp.MustCompile(`<line class="plot-size" x1="([\d.]+)%" x2="([\d.]+)%" y1="([\d.]+)" y2="([\d.]+)"`)

func TestSizesStandAtTheirNumbers(t *testing.T) {
	plot := drawing(t, sizedPower(48, 24, 23, 25), "plot-wide")
	found := sizeLine.FindAllStringSubmatch(plot, -1)
	if len(found) != 3 {
		t.Fatalf("%d lines, want one at 23 and two at 25, which leave room for the name of 23", len(found))
	}
	for i, n := range []int{23, 25, 25} {
		if want := pct(float64(n-2) / 46); found[i][1]+"%" != want || found[i][2] != found[i][1] {
			t.Errorf("the line of %d stands at %s%%, want %s", n, found[i][1], want)
		}
	}
	name := regexp.MustCompile(`y="([\d.]+)">23: smallest`).FindStringSubmatch(plot)
	at := func(s string) float64 {
		x, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		return x
	}
	if below, above := at(found[1][4]), at(found[2][3]); !(below >= at(name[1])+5 && above <= at(name[1])-14) {
		t.Errorf("the line of 25 ends at %v and goes on at %v, through the name at %s", below, above, name[1])
	}
	// Far apart neither is in the other's way.
	if far := sizeLine.FindAllString(drawing(t, sizedPower(48, 24, 8, 30), "plot-wide"), -1); len(far) != 2 {
		t.Errorf("%d lines of sizes far apart, want 2", len(far))
	}
	for _, want := range []string{">23: smallest that does<", ">25: every panel from here on<"} {
		if !strings.Contains(plot, want) {
			t.Errorf("no %q", want)
		}
	}
	if narrow := drawing(t, sizedPower(48, 24, 23, 25), "plot-narrow"); !strings.Contains(narrow, ">first: 23<") || !strings.Contains(narrow, ">stable: 25<") {
		t.Error("the narrow drawing does not name the sizes")
	}
	// One number for both has one line; one beyond the plot is named without.
	if plot := drawing(t, sizedPower(48, 24, 30, 30), "plot-wide"); len(sizeLine.FindAllString(plot, -1)) != 1 || !strings.Contains(plot, ">30: this and every larger one<") {
		t.Error("one number for both is not one mark")
	}
	if plot := drawing(t, sizedPower(48, 12, 66, 73), "plot-wide"); sizeLine.MatchString(plot) || !strings.Contains(plot, ">66: smallest that does →<") {
		t.Error("sizes beyond the plot are not named at its edge")
	}
	if plot := drawing(t, sizedPower(48, 24, 0, 0), "plot-wide"); strings.Contains(plot, "smallest") || strings.Contains(plot, "from here on") {
		t.Error("no size is promised, and one is named")
	}
}

// The names stay in the column wherever the sizes are, on heights of their own.
func TestSizeNamesStayInside(t *testing.T) {
	label := regexp.MustCompile(`<text class="plot-strong" text-anchor="(\w+)" x="([\d.]+)%" dx="(-?[\d.]+)" y="([\d.]+)">((?:first|stable|enough): [^<]*)<`)
	for first := 3; first <= 60; first++ {
		whole := sizedPower(48, 24, first, first+2)
		wellFormed(t, fmt.Sprint("sizes ", first), PowerCurve(PowerPlot{Points: []PowerPoint{{2, 0}, {48, 1}}, Wanted: 0.8, First: first, Stable: first + 2}))
		_, plot, _ := strings.Cut(whole, `plot-narrow"`)
		found := label.FindAllStringSubmatch(plot, -1)
		if len(found) != 2 || found[0][4] == found[1][4] {
			t.Fatalf("first %d: labels %v", first, found)
		}
		for _, m := range found {
			x, errX := strconv.ParseFloat(m[2], 64)
			dx, errD := strconv.ParseFloat(m[3], 64)
			if errX != nil || errD != nil {
				t.Fatal(errX, errD)
			}
			from := x/100*narrow.least + dx
			if m[1] == "end" {
				from -= labelPx(m[5])
			}
			if to := from + labelPx(m[5]); from < -44 || to > narrow.least+24 {
				t.Errorf("first %d: %q stands from %.0f to %.0f px of %.0f", first, m[5], from, to, narrow.least)
			}
		}
	}
}

// Nothing is drawn over a name: all dots and lines of sizes stand before them.
func TestSizeNamesAreDrawnLast(t *testing.T) {
	for _, which := range []string{"plot-wide", "plot-narrow"} {
		plot := drawing(t, sizedPower(48, 24, 23, 25), which)
		name := strings.Index(plot, `>wanted: `)
		for _, before := range []string{"<circle class=\"plot-dot", "plot-size"} {
			if at := strings.LastIndex(plot, before); at < 0 || at > name {
				t.Errorf("%s: %s is drawn over a name", which, before)
			}
		}
	}
}

// TestWantedIsClearOfTheCurve: whatever usual power is wanted of a triangle, its name
// stands where no point of the curve is within the name's height of it.
func TestWantedIsClearOfTheCurve(t *testing.T) {
	label := regexp.MustCompile(`<text class="plot-strong" text-anchor="(\w+)" x="([\d.]+)%" dx="(-?[\d.]+)" y="([\d.]+)">wanted: [^<]*<`)
	for i := range 20 {
		pd, wanted := 0.3+0.1*float64(i%5), []float64{0.75, 0.8, 0.9, 0.95}[i/5]
		p := PowerPlot{Wanted: wanted, Planned: 24, First: 23, Stable: 25, Title: "Power", Desc: "It rises."}
		for n := 2; n <= 48; n++ {
			power := 0.0
			if x := least(binomial(n, 1.0/3), 0.05); x > 0 {
				power = upper(binomial(n, pd+(1-pd)/3), x)
			}
			p.Points = append(p.Points, PowerPoint{n, power})
		}
		for _, which := range []variant{wide, narrow} {
			m := label.FindStringSubmatch(p.draw(which))
			if m == nil {
				t.Fatalf("pd %.1f, wanted %v: no name", pd, wanted)
			}
			x, errX := strconv.ParseFloat(m[2], 64)
			y, errY := strconv.ParseFloat(m[4], 64)
			if errX != nil || errY != nil {
				t.Fatal(errX, errY)
			}
			from, to := x/100, x/100+labelPx("wanted: 0.80")/which.least
			if m[1] == "end" {
				from, to = from-(to-from), from
			}
			head := p.label(which).head
			for _, pt := range p.Points {
				if at := powerY(head, pt.Power); p.at(pt.N) >= from && p.at(pt.N) <= to && at < y+2 && at > y-14 {
					t.Errorf("pd %.1f, wanted %v: its name stands on the point of %d answers", pd, wanted, pt.N)
				}
			}
		}
	}
}
