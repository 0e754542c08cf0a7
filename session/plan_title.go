package session

import (
	"fmt"
	"slices"
	"strings"
	"unicode"

	"golang.org/x/text/cases"
	"golang.org/x/text/unicode/norm"
)

// titleWords are a title's runs of letters and of digits, folded: "G-101" and
// "g101" are both "g", "101".
func titleWords(s string) []string {
	var words []string
	var last rune // 'a' in a run of letters, '0' in one of digits
	for _, r := range cases.Fold().String(norm.NFKC.String(s)) {
		kind := rune(0)
		switch {
		case unicode.IsLetter(r) || unicode.Is(unicode.Mn, r):
			kind = 'a'
		case unicode.IsDigit(r):
			kind = '0'
		}
		switch {
		case kind == 0:
		case kind == last:
			words[len(words)-1] += string(r)
		default:
			words = append(words, string(r))
		}
		last = kind
	}
	return words
}

// containsRun reports whether words stand in all, one after the other.
func containsRun(all, words []string) bool {
	for i := 0; len(words) > 0 && i+len(words) <= len(all); i++ {
		if slices.Equal(all[i:i+len(words)], words) {
			return true
		}
	}
	return false
}

// kindStems tell what was done to a lot, whichever lots are chosen, in languages
// that are common at tables; accents are left out. A title's word that begins with
// a stem is one of them.
var kindStems = []string{
	"decaf", "dekaf", "dekof", "descaf", "entkoff", "koffein", "caffein", "cafein", "decofein",
	"untreated", "treated", "processed", "unprocessed", "unbehandelt",
	"solvent", "solvant", "disolvent", "losungsmittel", "losemittel",
	"dichlor", "diclor", "methylen", "metilen", "ethylacet", "kohlendioxid",
	"behandel", "trattat", "tratad", "traite", "wasserproz", "wasserverf", "обработ",
}

// kindWithin do wherever they stand in a word, as in “bezkofeinová”.
var kindWithin = []string{
	"kofein", "koffein", "kafein", "kaffein", "caffein", "cafein", "декаф", "кофеин",
	"咖啡因", "カフェイン", "デカフェ", "디카페인", "카페인",
}

// kindPhrases do, too, as words of their own.
var kindPhrases = []string{
	"caf", "deca", "co2", "scco2", "swp", "carbon dioxide", "dcm", "ethyl acetate", "acetate", "water", "sugarcane", "sugar cane", "before and after", "after and before", "vorher nachher",
}

// kindJoined do when written apart, as “de-caf” or “D.C.M.”.
var kindJoined = []string{
	"decaf", "decaff", "decaffeinated", "dekaf", "koffeinfrei", "entkoffeiniert", "descafeinado", "dcm", "co2", "untreated", "unprocessed", "beforeafter", "afterbefore",
}

// processWords are short names of a process family that are words of something
// else as well, so that they tell only where a lot was treated so.
var processWords = map[string][]string{
	"ethyl acetate":   {"ea"},
	"dichloromethane": {"mc"},
}

// unaccented leaves the accents of a word out.
func unaccented(word string) string {
	return strings.Map(func(r rune) rune {
		if unicode.Is(unicode.Mn, r) {
			return -1
		}
		return r
	}, norm.NFD.String(word))
}

// lookAlikes are Cyrillic letters that read as Latin ones.
var lookAlikes = strings.NewReplacer("а", "a", "е", "e", "о", "o", "р", "p", "с", "c", "х", "x", "у", "y", "к", "k", "т", "t", "м", "m", "в", "b", "н", "h", "і", "i", "ѕ", "s", "ԁ", "d")

// tellsKind reports whether one word tells what was done to a lot.
func tellsKind(word string) bool {
	for _, w := range []string{unaccented(word), lookAlikes.Replace(unaccented(word))} {
		if slices.ContainsFunc(kindStems, func(stem string) bool { return strings.HasPrefix(w, stem) }) ||
			slices.ContainsFunc(kindWithin, func(part string) bool { return strings.Contains(w, unaccented(part)) }) {
			return true
		}
	}
	return false
}

// kindTold gives what of a title tells what was done to a lot, "" if nothing does.
func kindTold(title []string) string {
	for _, w := range slices.Concat(title, spelled(title)) {
		if tellsKind(w) {
			return w
		}
	}
	for i, w := range title {
		// Three words hold what is written apart, down to single letters.
		joined := unaccented(w)
		for _, next := range title[i+1 : min(i+3, len(title))] {
			if joined += unaccented(next); slices.Contains(kindJoined, joined) {
				return joined
			}
		}
	}
	for _, phrase := range kindPhrases {
		if containsRun(title, titleWords(phrase)) {
			return phrase
		}
	}
	return ""
}

// titleTells gives what of the lots a title tells, "" if nothing: a lot's number,
// the note it goes by, or what was done to it.
func (p Plan) titleTells() string {
	title := titleWords(p.Title)
	for _, l := range []Lot{p.Untreated, p.Processed} {
		number := titleWords(l.Number)
		if common(number) { // of a date, or the count of a session
			number = append([]string{"lot"}, number...)
		}
		if containsRun(title, number) ||
			!common(titleWords(l.Number)) && l.Number != "" && strings.Contains(strings.ToLower(p.Title), strings.ToLower(l.Number)) {
			return "lot " + l.Number
		}
		if containsRun(title, titleWords(l.Note)) {
			return "a lot by its note, “" + strings.TrimSpace(l.Note) + "”"
		}
	}
	if told := kindTold(title); told != "" {
		return "what was done to a lot (“" + told + "”)"
	}
	for _, l := range []Lot{p.Untreated, p.Processed} {
		for _, w := range append([]string{l.Treatment}, processWords[l.Treatment]...) {
			if containsRun(title, titleWords(w)) {
				return "what was done to a lot (“" + w + "”)"
			}
		}
	}
	return ""
}

// common reports whether a lot's number is one or two digits alone, which a title
// has for many reasons.
func common(number []string) bool {
	return len(number) == 1 && len(number[0]) <= 2 && unicode.IsDigit([]rune(number[0])[0])
}

// Advice gives what is worth a second look before sealing, by field, and forbids
// nothing. What the figures can show is in [Forecast].
func (p Plan) Advice() Faults {
	var f Faults
	add := func(field, format string, args ...any) { f = append(f, Fault{field, fmt.Sprintf(format, args...)}) }
	title := titleWords(p.Title)
	for _, w := range title {
		switch {
		case slices.Contains([]string{"blank", "control", "controls", "spiked", "diluted"}, w):
			add("title", "Tasters see the title: “%s” tells them what kind of sets to expect.", w)
		case slices.Contains([]string{"regular", "normal", "before", "after", "original", "standard"}, w):
			add("title", "Tasters see the title: “%s” lets them think of what was done to a lot.", w)
		case p.asksAbout(w):
			add("title", "Tasters see the title: “%s” tells them what to look for before they are asked.", w)
		case p.numbered(w):
			add("title", "Tasters see the title: “%s” stands in a lot’s number too.", w)
		}
	}
	if light := strings.TrimSpace(p.Conditions.Light); light != "" {
		switch red := slices.Contains(titleWords(light), "red"); {
		case p.Serving.RedLight && !red:
			add("serving.redLight", "Phones are set for red lamps, and the light is planned as “%s”. Is one of the two a slip?", light)
		case !p.Serving.RedLight && red:
			add("serving.redLight", "The light is planned as “%s”, and phones keep their ordinary screens, which shine white. Is one of the two a slip?", light)
		}
	}
	for _, l := range []struct {
		field string
		lot   Lot
	}{{"untreated", p.Untreated}, {"processed", p.Processed}} {
		if l.lot.ID != "" && l.lot.Treatment == "" {
			add(l.field, "It is not recorded what was done to lot %s. Is it the %s lot?", l.lot.Number, l.field)
		}
	}
	return f
}

// asksAbout reports whether a word is of an attribute that is asked about.
func (p Plan) asksAbout(word string) bool {
	const fewest = 4 // letters; shorter words are of, in, and
	for _, t := range p.Tests {
		for _, a := range titleWords(t.Attribute) {
			if len([]rune(a)) >= fewest && strings.HasPrefix(word, a) {
				return true
			}
		}
	}
	return false
}

// numbered reports whether a word is a run of three digits or more of a lot's
// number, or all of a shorter one.
func (p Plan) numbered(word string) bool {
	if !unicode.IsDigit([]rune(word)[0]) {
		return false
	}
	return slices.ContainsFunc([]Lot{p.Untreated, p.Processed}, func(l Lot) bool {
		number := titleWords(l.Number)
		return slices.Contains(number, word) && (len(word) >= 3 || common(number))
	})
}
