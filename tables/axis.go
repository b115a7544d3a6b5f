package tables

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strconv"
	"strings"
)

// Axis is a quantity, its unit, and strictly increasing finite breakpoints, at
// least one. The zero Axis is not an axis; build one with [NewAxis].
type Axis struct {
	quantity, unit string
	points         []float64
	extra          Extra
}

// NewAxis builds an axis. It refuses no breakpoints, breakpoints that are not
// finite and breakpoints that do not strictly increase.
func NewAxis(quantity, unit string, points []float64) (*Axis, error) {
	return NewAxisExtra(quantity, unit, points, nil)
}

// NewAxisExtra is [NewAxis] with the "x-…" keys that a document gave the axis.
func NewAxisExtra(quantity, unit string, points []float64, extra Extra) (*Axis, error) {
	if len(points) == 0 {
		return nil, fmt.Errorf("axis has no breakpoints")
	}
	for i := range points {
		if err := ValidPoint(points, i); err != nil {
			return nil, err
		}
	}
	if err := AxisFields.validate(&AxisParts{quantity, unit, extra}); err != nil {
		return nil, err
	}
	return &Axis{quantity, unit, slices.Clone(points), extra.clone()}, nil
}

// ValidPoint refuses breakpoint i where it is not finite or not above the one
// before it. Readers ask it too, to name the place of every bad breakpoint.
func ValidPoint(points []float64, i int) error {
	p := points[i]
	if math.IsNaN(p) || math.IsInf(p, 0) {
		return fmt.Errorf("breakpoint %d is %v, expected a finite number", i, p)
	}
	if i > 0 && !(points[i-1] < p) {
		return fmt.Errorf("breakpoint %d is %s, not above the one before it, %s",
			i, FormatValue(p), FormatValue(points[i-1]))
	}
	return nil
}

// AxisParts is the plain description of an axis but for its breakpoints.
type AxisParts struct {
	Quantity, Unit string
	Extra          Extra
}

// Parts is the axis's description.
func (a *Axis) Parts() AxisParts { return AxisParts{a.quantity, a.unit, a.extra} }

// Quantity is what the axis measures, such as "engine speed".
func (a *Axis) Quantity() string { return a.quantity }

// Unit is the unit of the breakpoints, as the document spells it.
func (a *Axis) Unit() string { return a.unit }

// Label is how an axis is shown: its quantity, and its unit in brackets; "" for
// a nil axis.
func (a *Axis) Label() string {
	switch {
	case a == nil:
		return ""
	case a.unit == "":
		return a.quantity
	}
	return a.quantity + " [" + a.unit + "]"
}

// Text is an axis in a line: its first breakpoints stand for the rest.
func (a *Axis) Text() string {
	if a == nil {
		return "no axis"
	}
	const most = 12
	var points []string
	for i := 0; i < a.Len() && i < most; i++ {
		points = append(points, FormatValue(a.At(i)))
	}
	if a.Len() > most {
		points = append(points, "… "+strconv.Itoa(a.Len())+" in all")
	}
	s := strings.TrimSpace(a.Label() + " " + strings.Join(points, ", "))
	for _, k := range a.extra {
		s += ", " + k.Key + " " + k.Value
	}
	return s
}

// Len is the number of breakpoints.
func (a *Axis) Len() int { return len(a.points) }

// At is breakpoint i.
func (a *Axis) At(i int) float64 { return a.points[i] }

// Points are the breakpoints. The caller must not change them.
func (a *Axis) Points() []float64 { return a.points }

// Extra are the axis's "x-…" keys.
func (a *Axis) Extra() Extra { return a.extra }

// Find is the index of the breakpoint that equals v exactly, or −1.
func (a *Axis) Find(v float64) int {
	i := sort.SearchFloat64s(a.points, v)
	if i < len(a.points) && a.points[i] == v {
		return i
	}
	return -1
}

// Equal reports whether two axes are the same to the bit: quantity, unit,
// breakpoints and "x-…" keys. Two nil axes are equal.
func (a *Axis) Equal(b *Axis) bool {
	if a == nil || b == nil {
		return a == b
	}
	return a == b || a.quantity == b.quantity && a.unit == b.unit &&
		SameBits(a.points, b.points) && a.extra.Equal(b.extra)
}

// SamePoints reports whether two axes have the same breakpoints, by value.
func (a *Axis) SamePoints(b *Axis) bool {
	if a == nil || b == nil {
		return a == b
	}
	return slices.Equal(a.points, b.points)
}

// SameBits reports whether two lists of numbers are the same to the bit, so
// that 0 and −0 differ and two empty (NaN) cells do not.
func SameBits(a, b []float64) bool {
	return slices.EqualFunc(a, b, SameBit)
}

// SameBit reports whether two numbers are the same to the bit; any two NaN are.
func SameBit(a, b float64) bool {
	return math.Float64bits(a) == math.Float64bits(b) || math.IsNaN(a) && math.IsNaN(b)
}
