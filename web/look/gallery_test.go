package look

import (
	"html/template"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// galleryPage is one invented page of the gallery.
type galleryPage struct {
	name  string
	sheet string // the page's own style sheets, host or print
	body  string // a template with the functions of this package
}

var galleryFuncs = template.FuncMap{
	"digits": Digits, "widetape": WideTape, "tape": Tape, "mark": Mark, "cup": Cup, "vessel": Vessel,
	"setdots": SetDots, "wordmark": WordMark,
	"qr": QR,
	"seq": func(from, to int) []int {
		var s []int
		for i := from; i <= to; i++ {
			s = append(s, i)
		}
		return s
	},
	"list":     func(words ...string) []string { return words },
	"null":     sampleNull,
	"nullboth": sampleNullBoth,
	"power":    samplePower,
	"powerat": func(planned string) (template.HTML, error) {
		n, err := strconv.Atoi(planned)
		return samplePower(2, 48, n), err
	},
	"estimates": sampleEstimates,
	"judges":    sampleJudges,
}

// binomial returns the probabilities of 0 to n right when each is right with
// probability p, by logarithms of the gamma function.
func binomial(n int, p float64) []float64 {
	pmf := make([]float64, n+1)
	for x := range pmf {
		a, _ := math.Lgamma(float64(n + 1))
		b, _ := math.Lgamma(float64(x + 1))
		c, _ := math.Lgamma(float64(n - x + 1))
		pmf[x] = math.Exp(a - b - c + float64(x)*math.Log(p) + float64(n-x)*math.Log(1-p))
	}
	return pmf
}

// upper returns the probability of x or more.
func upper(pmf []float64, x int) float64 {
	sum := 0.0
	for k := len(pmf) - 1; k >= x; k-- {
		sum += pmf[k]
	}
	return sum
}

// least returns the smallest count whose upper tail is at most alpha, or 0.
func least(pmf []float64, alpha float64) int {
	for x := range pmf {
		if upper(pmf, x) <= alpha {
			return x
		}
	}
	return 0
}

func sampleNull(n, observed int, chance float64) template.HTML {
	pmf := binomial(n, chance)
	p := -1.0
	if observed >= 0 {
		p = upper(pmf, observed)
	}
	return NullDistribution(NullPlot{
		N: n, Chance: chance, PMF: pmf, MinCorrect: least(pmf, 0.05), Observed: observed, P: p,
		Title: "Counts that guessing alone gives", XLabel: "odd cup found",
		MinimumNote: "chance alone reaches it in 28 of 1000 sessions",
	})
}

// sampleNullBoth is a two-sided test at α 0.05: half of it at each end.
func sampleNullBoth(n, observed int) template.HTML {
	pmf := binomial(n, 0.5)
	return NullDistribution(NullPlot{
		N: n, Chance: 0.5, PMF: pmf, MinCorrect: least(pmf, 0.025), TwoSided: true, Observed: observed, P: 0.04,
		Title: "Counts that guessing alone gives", XLabel: "processed lot picked",
		MinimumNote: "chance alone reaches one of the two in 23 of 1000 sessions",
	})
}

func samplePower(from, to, planned int) template.HTML {
	var pts []PowerPoint
	var even []int
	for n := from; n <= to; n++ {
		x := least(binomial(n, 1.0/3), 0.05)
		power := 0.0
		if x > 0 {
			power = upper(binomial(n, 0.4+0.6/3), x)
		}
		pts = append(pts, PowerPoint{n, power})
		if n%6 == 0 {
			even = append(even, n)
		}
	}
	return PowerCurve(PowerPlot{
		Points: pts, Even: even, Wanted: 0.8, Planned: planned,
		Title: "Power for each number of answers", Desc: "It rises in a saw-tooth.",
		XLabel:      "answers, n (large dots: every serving order equally often)",
		PlannedNote: "of 100 such panels, 79 would find it",
	})
}

func sampleEstimates() template.HTML {
	zero := 0.0
	return Estimates(EstimatePlot{
		Rows: []Estimate{
			{Label: "triangle", Sub: "share who perceive it, pd", Value: 0.31, Lower: 0.04, Upper: 0.58, Words: "0.31 (0.04 to 0.58)"},
			{Label: "body, paired comparison", Sub: "share who perceive it, pd", Value: 0.5, Lower: 0, LowerCut: true, Upper: 0.77, Words: "0.50 (at most 0.77)"},
			{Label: "blank test", Sub: "no answers yet", Value: math.NaN(), Words: "no estimate"},
		},
		Min: -0.2, Max: 1, AxisLabel: "pd, the count corrected for guessing; 90 % intervals", Chance: &zero,
		Title: "Share who perceive the difference", Desc: "Dots with 90 % intervals.",
	})
}

func sampleJudges() template.HTML {
	chance := 1.0 / 3
	p := EstimatePlot{Min: 0, Max: 1, AxisLabel: "share of control sets answered correctly", Chance: &chance,
		Lines: []AxisLine{{0.6, "typical at d′ 2"}}, Title: "Judges", Desc: "Dots with 90 % intervals."}
	for _, j := range []string{"J 01", "J 03", "J 04", "J 05", "J 08"} {
		p.Rows = append(p.Rows, Estimate{Label: j, Sub: "22 control sets", Value: 0.64, Lower: 0.44, Upper: 0.8, Words: "14 of 22: 0.64 (0.44 to 0.80)"})
	}
	return Estimates(p)
}

// writeGallery writes every page in every theme, with the style sheets beside
// them, and returns the pages' paths.
func writeGallery(t *testing.T, dir string) []string {
	t.Helper()
	sheets, err := fs.Sub(Static, "static")
	if err != nil {
		t.Fatal(err)
	}
	names, err := fs.Glob(sheets, "*.css")
	if err != nil || len(names) == 0 {
		t.Fatalf("style sheets: %v, %v", names, err)
	}
	for _, name := range names {
		b, err := fs.ReadFile(sheets, name)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, name), b, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	var paths []string
	for _, page := range galleryPages {
		for _, theme := range []string{"light", "dark", "red"} {
			if page.sheet == "print" && theme != "light" {
				continue
			}
			var b strings.Builder
			b.WriteString(`<!doctype html><html lang="en" data-theme="` + theme + `"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width"><title>` + page.name + `</title>`)
			for _, sheet := range []string{"tokens", "base", "host", "print"} {
				if sheet != page.sheet && sheet != "tokens" && sheet != "base" && page.name != "result" {
					continue
				}
				b.WriteString(`<link rel="stylesheet" href="` + sheet + `.css">`)
			}
			b.WriteString(`</head>`)
			tmpl, err := template.New(page.name).Funcs(galleryFuncs).Parse(page.body)
			if err != nil {
				t.Fatalf("page %s: %v", page.name, err)
			}
			if err := tmpl.Execute(&b, nil); err != nil {
				t.Fatalf("page %s: %v", page.name, err)
			}
			path := filepath.Join(dir, page.name+"-"+theme+".html")
			if err := os.WriteFile(path, []byte(b.String()), 0o600); err != nil {
				t.Fatal(err)
			}
			paths = append(paths, path)
		}
	}
	return paths
}

// TestGallery writes the gallery, to the directory ODDCUP_GALLERY for looking
// at, else to a temporary one, and holds its markup to the content security
// policy that the pages are served with.
func TestGallery(t *testing.T) {
	dir := os.Getenv("ODDCUP_GALLERY")
	if dir == "" {
		dir = t.TempDir()
	}
	paths := writeGallery(t, dir)
	if len(paths) == 0 {
		t.Fatal("no pages written")
	}
	for _, path := range paths {
		b, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		for _, bad := range []string{" style=", "<style", "<script", " onclick=", "ZgotmplZ"} {
			if strings.Contains(string(b), bad) {
				t.Errorf("%s: contains %q", filepath.Base(path), bad)
			}
		}
	}
}
