package tables

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"sort"
	"strconv"
	"strings"
)

// AxisParts is the plain description of an axis. [AxisParts.Axis] makes an [Axis] of
// it.
type AxisParts struct {
	Quantity, Unit string
	Points         []float64
	Extra          Extra
}

// Axis is a quantity, its unit, and strictly increasing finite breakpoints, at
// least one. It is immutable. The zero Axis is not an axis.
type Axis struct{ p AxisParts }

// NewAxis builds an axis. It refuses no breakpoints, breakpoints that are not
// finite and breakpoints that do not strictly increase.
func NewAxis(quantity, unit string, points []float64) (*Axis, error) {
	return AxisParts{Quantity: quantity, Unit: unit, Points: points}.Axis()
}

// Axis is [NewAxis] of a description.
func (p AxisParts) Axis() (*Axis, error) {
	if len(p.Points) == 0 {
		return nil, fmt.Errorf("axis has no breakpoints")
	}
	for i := range p.Points {
		if err := ValidPoint(p.Points, i); err != nil {
			return nil, err
		}
	}
	if err := AxisFields.validate(&p); err != nil {
		return nil, err
	}
	p.Points, p.Extra = slices.Clone(p.Points), maps.Clone(p.Extra)
	return &Axis{p}, nil
}

// Label is how an axis is shown: its quantity, and its unit in brackets.
func (p AxisParts) Label() string {
	if p.Unit == "" {
		return p.Quantity
	}
	return p.Quantity + " [" + p.Unit + "]"
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

// Parts is the axis's description. The caller must not change its slices.
func (a *Axis) Parts() AxisParts { return a.p }

// WithPoints is the same axis with other breakpoints.
func (a *Axis) WithPoints(points []float64) (*Axis, error) {
	p := a.p
	p.Points = points
	return p.Axis()
}

// Quantity is what the axis measures, such as "engine speed".
func (a *Axis) Quantity() string { return a.p.Quantity }

// Unit is the unit of the breakpoints, as the document spells it.
func (a *Axis) Unit() string { return a.p.Unit }

// Label is [AxisParts.Label]; "" for a nil axis.
func (a *Axis) Label() string {
	if a == nil {
		return ""
	}
	return a.p.Label()
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
	for key, value := range a.p.Extra.Sorted() {
		s += ", " + key + " " + value
	}
	return s
}

// Len is the number of breakpoints; where there is no axis, all is at one.
func (a *Axis) Len() int {
	if a == nil {
		return 1
	}
	return len(a.p.Points)
}

// At is breakpoint i.
func (a *Axis) At(i int) float64 { return a.p.Points[i] }

// Points are the breakpoints. The caller must not change them.
func (a *Axis) Points() []float64 { return a.p.Points }

// Extra are the axis's "x-…" keys.
func (a *Axis) Extra() Extra { return a.p.Extra }

// Find is the index of the breakpoint that equals v exactly, or −1.
func (a *Axis) Find(v float64) int {
	i := sort.SearchFloat64s(a.p.Points, v)
	if i < len(a.p.Points) && a.p.Points[i] == v {
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
	return a == b || a.p.Quantity == b.p.Quantity && a.p.Unit == b.p.Unit &&
		SameBits(a.p.Points, b.p.Points) && a.p.Extra.Equal(b.p.Extra)
}

// SamePoints reports whether two axes have the same breakpoints, by value.
func (a *Axis) SamePoints(b *Axis) bool {
	if a == nil || b == nil {
		return a == b
	}
	return slices.Equal(a.p.Points, b.p.Points)
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
