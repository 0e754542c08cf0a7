package session

// Code is the three-digit blinding code of a cup, 100 to 999.
type Code int

// usableCodes are all codes that a layout may use, in rising order.
//
// Left out are codes that carry a meaning or can be misread: what reads as a
// number upside down (168 and 891, 609), three equal digits, runs (123, 987)
// and round hundreds. Common practice, no source; ISO 4120 asks for uniform
// three-digit codes drawn at random.
var usableCodes = func() []Code {
	var codes []Code
	for c := Code(100); c <= 999; c++ {
		if c.usable() {
			codes = append(codes, c)
		}
	}
	return codes
}()

func (c Code) digits() (a, b, d int) { return int(c) / 100, int(c) / 10 % 10, int(c) % 10 }

func (c Code) usable() bool {
	a, b, d := c.digits()
	turns := func(x int) bool { return x == 0 || x == 1 || x == 6 || x == 8 || x == 9 }
	switch {
	case turns(a) && turns(b) && turns(d):
		return false
	case a == b && b == d:
		return false
	case b-a == 1 && d-b == 1, a-b == 1 && b-d == 1:
		return false
	case b == 0 && d == 0:
		return false
	}
	return true
}

// swaps reports whether two codes differ by a swap of neighbours (418, 481),
// the usual slip in reading and writing.
func (c Code) swaps(o Code) bool {
	a, b, d := c.digits()
	x, y, z := o.digits()
	return c != o && (a == y && b == x && d == z || a == x && b == z && d == y)
}
