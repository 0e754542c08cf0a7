package session

import "time"

// LotID names a lot in the laboratory's register.
type LotID string

// Lot is an identified quantity of green coffee under one number, as the
// register knows it.
type Lot struct {
	ID        LotID  `json:"id"`
	Number    string `json:"number"`
	Treatment string `json:"treatment"` // one of Treatments
	Note      string `json:"note,omitempty"`
}

// Treatments are what may have been done to a lot: nothing, or one of the
// process families.
var Treatments = []string{"untreated", "water", "ethyl acetate", "carbon dioxide", "dichloromethane"}

// Untreated reports whether the lot has not been decaffeinated.
func (l Lot) Untreated() bool { return l.Treatment == Treatments[0] }

// Words names the lot on screens and sheets.
func (l Lot) Words() string {
	if l.Untreated() {
		return l.Number + ", untreated"
	}
	return l.Number + ", processed with " + l.Treatment
}

// Release says that a lot is safe to taste: who says so, and on what report.
type Release struct {
	Lot    LotID     `json:"lot"`
	By     Text      `json:"by"`
	Report string    `json:"report"`
	At     time.Time `json:"at"`
}
