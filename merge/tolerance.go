package merge

import (
	"fmt"
	"math"
	"math/big"
	"path"
	"strings"

	"calsplice/tables"
)

// Tolerance says which differences of cells a person is not shown. For a table
// that none of Abs and Rel speaks of it is half the resolution, where it has
// one. Only the showing is affected: a change set carries every bit.
type Tolerance struct {
	Abs, Rel []Bound
}

// Bound is a tolerance for the tables that a pattern names; "" is every table
// that has none of its own. Of several the last counts.
type Bound struct {
	Table string
	Value float64
}

// ParseBound reads "[TABLE=]VALUE".
func ParseBound(s string) (Bound, error) {
	var b Bound
	value := s
	if i := strings.LastIndexByte(s, '='); i >= 0 {
		b.Table, value = s[:i], s[i+1:]
		if _, err := path.Match(b.Table, ""); err != nil || b.Table == "" {
			return b, fmt.Errorf("tolerance %s: expected a table's id or a pattern before the =", tables.Quote(s))
		}
	}
	v, err := tables.ParseValue(value)
	if err != nil || v < 0 {
		return b, fmt.Errorf("tolerance %s: expected [TABLE=]VALUE, a number not below 0", tables.Quote(s))
	}
	b.Value = v
	return b, nil
}

// bounds is the tolerance of one table.
type bounds struct {
	abs, rel float64
	given    bool    // by abs and rel; otherwise half counts
	half     float64 // half the resolution
}

func (t Tolerance) of(id string, half float64) bounds {
	b := bounds{half: half}
	var hasAbs, hasRel bool
	b.abs, hasAbs = lastBound(t.Abs, id)
	b.rel, hasRel = lastBound(t.Rel, id)
	b.given = hasAbs || hasRel
	return b
}

func lastBound(list []Bound, id string) (v float64, ok bool) {
	named := false
	for _, b := range list {
		if b.Table == "" {
			if !named {
				v, ok = b.Value, true
			}
		} else if hit, _ := path.Match(b.Table, id); hit {
			v, ok, named = b.Value, true, true
		}
	}
	return v, ok
}

// hides reports whether two cells are the same for a person: not further apart
// than the told tolerance, or nearer than half the resolution. At a tolerance
// of 0 only the same bits are.
func (b bounds) hides(v, w float64) bool {
	if tables.SameBit(v, w) {
		return true
	}
	if !b.given {
		return b.half > 0 && apart(v, w, b.half) < 0
	}
	tol := max(b.abs, b.rel*max(math.Abs(v), math.Abs(w)))
	return tol > 0 && apart(v, w, tol) <= 0
}

func (b bounds) String() string {
	switch {
	case !b.given && b.half == 0:
		return "none"
	case !b.given:
		return tables.FormatValue(b.half) + ", half the resolution"
	case b.rel == 0:
		return tables.FormatValue(b.abs)
	case b.abs == 0:
		return tables.FormatValue(b.rel*100) + " %"
	}
	return tables.FormatValue(b.abs) + " or " + tables.FormatValue(b.rel*100) + " %, the larger"
}

// apart compares the distance of two numbers with a third, as −1, 0 or +1. The
// numbers are taken for the decimals that a document shows: 1.1 and 1 are 0.1
// apart, though their doubles are a little further. An empty cell is further
// from anything than any distance.
func apart(v, w, distance float64) int {
	d := math.Abs(v - w)
	if math.IsNaN(d) {
		return +1
	}
	// Far from equal, doubles decide. Only where rounding could tip the balance are
	// the decimals themselves compared, exactly, which costs a thousand times more.
	slack := float64(4e-16*(math.Abs(v)/2+math.Abs(w)/2)) + float64(1e-15*distance)
	switch {
	case d < distance-slack:
		return -1
	case d > distance+slack:
		return +1
	}
	exact := new(big.Rat).Sub(decimal(v), decimal(w))
	return exact.Abs(exact).Cmp(decimal(distance))
}

func decimal(v float64) *big.Rat {
	r, ok := new(big.Rat).SetString(tables.FormatValue(v))
	if !ok {
		return new(big.Rat).SetFloat64(math.MaxFloat64)
	}
	return r
}
