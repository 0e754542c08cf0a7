package session

import (
	"bytes"
	"errors"
	"io"
	"testing"
	"testing/iotest"
	"time"
)

func TestEasyPinsAreRefused(t *testing.T) {
	for _, pin := range []string{"0000", "1111", "999999999999", "1234", "0123", "4321", "9876543210", "1212", "123123", "6969", "1122", "112233", "7890", "9012", "2580", "0852", "1984", "2026"} {
		if _, err := NewPin(pin, chance(2)); !errors.Is(err, ErrPinEasy) {
			t.Errorf("PIN %q: %v", pin, err)
		}
	}
	for _, pin := range []string{"1112", "1243", "1357", "4711", "1223", "2581", "20261", "121314"} {
		if _, err := NewPin(pin, chance(2)); err != nil {
			t.Errorf("PIN %q: %v", pin, err)
		}
	}
}

func TestPins(t *testing.T) {
	for _, pin := range []string{"", "123", "1234567890123", "12a4", "12 34", "1234\n", "１２３４", "-1234"} {
		if _, err := NewPin(pin, chance(2)); !errors.Is(err, ErrPin) {
			t.Errorf("PIN %q: %v", pin, err)
		}
		if testPin.matches(pin) {
			t.Errorf("PIN %q matches", pin)
		}
	}
	if !testPin.matches("4711") || testPin.matches("4712") || testPin.matches("04711") {
		t.Error("the wrong PINs match")
	}
	other, err := NewPin("4711", chance(9))
	if err != nil {
		t.Fatal(err)
	}
	if bytes.Equal(other.Sum, testPin.Sum) {
		t.Error("two salts give one sum")
	}
	if (Pin{}).matches("") || (Pin{}).matches("4711") {
		t.Error("a PIN that was never set matches")
	}
	if _, err := NewPin("4711", iotest.ErrReader(io.ErrUnexpectedEOF)); !errors.Is(err, io.ErrUnexpectedEOF) {
		t.Errorf("without chance: %v", err)
	}
}

func TestFiveWrongPinsThenWait(t *testing.T) {
	g := newGame(t).toSealed(planOf(3, triangles(1)))
	start := g.now
	try := func(after time.Duration, pin string) (kind string, err error) {
		events, err := g.try(Command{At: start.Add(after), Actor: Pourer, Act: OpenPourSheet{Pin: pin}})
		if len(events) == 1 {
			kind = events[0].Kind()
		}
		return kind, err
	}
	for i := range 5 {
		if kind, err := try(time.Duration(i)*time.Second, "0000"); kind != "pin refused" || err != nil {
			t.Fatalf("wrong PIN %d: %q, %v", i+1, kind, err)
		}
	}
	for _, pin := range []string{"0000", "4711"} {
		if kind, err := try(59*time.Second, pin); !errors.Is(err, ErrPinWait) || kind != "" {
			t.Errorf("PIN %s within the minute: %q, %v", pin, kind, err)
		}
	}
	if kind, err := try(60*time.Second, "0000"); kind != "pin refused" || err != nil {
		t.Errorf("a wrong PIN after the minute: %q, %v", kind, err)
	}
	// The second of the five is less than a minute old again.
	if _, err := try(60*time.Second, "4711"); !errors.Is(err, ErrPinWait) {
		t.Errorf("five wrong ones in a minute, and %v", err)
	}
	if kind, err := try(61*time.Second, "4711"); kind != "pour sheet opened" || err != nil {
		t.Errorf("the right PIN after the minute: %q, %v", kind, err)
	}
	if g.s.SheetOpenings != 1 {
		t.Errorf("%d openings", g.s.SheetOpenings)
	}
	// The right one clears the count.
	for i := range 5 {
		if kind, err := try(62*time.Second, "0000"); kind != "pin refused" || err != nil {
			t.Fatalf("wrong PIN %d after the right one: %q, %v", i+1, kind, err)
		}
	}
}

func TestPourSheetFollowsTheKey(t *testing.T) {
	g := newGame(t)
	if _, err := g.s.PourSheet(); !errors.Is(err, ErrPhase) {
		t.Errorf("a sheet before the seal: %v", err)
	}
	g.toSealed(planOf(8, triangles(2), pairOn("body")))
	sheet, err := g.s.PourSheet()
	if err != nil {
		t.Fatal(err)
	}
	if len(sheet.Rounds) != 3 || len(sheet.Rounds[0].Trays) != 8 || len(sheet.Called) != 0 {
		t.Errorf("%d rounds, %d trays", len(sheet.Rounds), len(sheet.Rounds[0].Trays))
	}
	g.do(OpenLobby{}, sit(5, 1), sit(0, 2), FreezeList{}, Open{releases()}, Serve{Round: 1},
		Void{Seat: 5, Set: 1, Reason: text("spilt"), Replace: true})
	if sheet, err = g.s.PourSheet(); err != nil {
		t.Fatal(err)
	}
	if len(sheet.Called) != 1 || sheet.Called[0].Seat != 5 || sheet.Called[0].Take != 1 {
		t.Fatalf("called: %+v", sheet.Called)
	}
	disc := map[string]Lot{"A": lotGreen, "B": lotWater}[g.s.sealed.Layout.Disc]
	if sheet.Lots[Disc] != disc || sheet.Lots[Diamond] == disc || len(sheet.Lots) != 2 {
		t.Errorf("the disc marks %v, want %v", sheet.Lots[Disc], disc)
	}
	trays := append([]PourTray(nil), sheet.Called...)
	for i, round := range sheet.Rounds {
		if round.Round != i+1 || round.Test != i/2 || len(round.Trays) != 2 {
			t.Errorf("round %+v", round)
		}
		trays = append(trays, round.Trays...)
	}
	for _, tray := range trays {
		order := g.s.sealed.Layout.Seats[tray.Seat-1][tray.Set-1].Order
		codes := g.s.Codes(tray.Seat, tray.Set, tray.Take)
		if len(tray.Cups) != len(codes) {
			t.Fatalf("seat %d: %d cups", tray.Seat, len(tray.Cups))
		}
		for i, cup := range tray.Cups {
			want := lotGreen
			if order[i] == 'B' {
				want = lotWater
			}
			if cup.Code != codes[i] || sheet.Lots[cup.Vessel] != want {
				t.Errorf("seat %d, set %d, take %d, cup %d: code %d of %v, want %d of %v",
					tray.Seat, tray.Set, tray.Take, i+1, cup.Code, sheet.Lots[cup.Vessel], codes[i], want)
			}
		}
	}
}
