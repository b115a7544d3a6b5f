package interp

import (
	"cmp"
	"errors"
	"fmt"
	"math"

	"calsplice/tables"
	"calsplice/tables/unit"
)

// Status says where a value comes from.
type Status uint8

const (
	Measured     Status = iota // a table's own value, at one of its breakpoints
	Interpolated               // between its breakpoints
	Extrapolated               // past its ends
)

// String is the status as reports name it.
func (s Status) String() string {
	return [...]string{"measured", "interpolated", "extrapolated"}[s]
}

// Difference is how far two surfaces are apart: second minus first, in the
// first's units. It is bilinear between the nodes of X and Y, the union of both
// tables' breakpoints, so that its largest size stands on one of them; Mean and
// RMS are its exact integrals over the box that the union spans.
type Difference struct {
	Axes   tables.Axes // the union of both tables'
	Values []float64   // at each node, row after row; NaN where either table is empty
	Status []Status    // at each node, of the table that says less there

	Largest float64            // size of the largest
	Node    int                // where it stands, the first of equals
	At      tables.Coordinates // the node's
	From    tables.Number      // the first surface there; NaN where every node is empty
	To      tables.Number      // the second

	Mean, RMS float64
	Empty     int      // nodes left out because a table is empty there
	Notes     []string // conversions that it took
}

// Compare is the difference of two tables, each held at its edges. Their axes
// may differ in breakpoints and units, and one may lack an axis that the other
// has; it is an error where the axes measure different quantities, or where the
// values' or the axes' units do not convert.
func Compare(a, b *tables.Table) (*Difference, error) {
	return compare(a, b, Hold)
}

// compare is [Compare] with a choice of what the first table is past its ends.
func compare(a, b *tables.Table, out Outside) (_ *Difference, err error) {
	defer func() {
		if err != nil {
			err = fmt.Errorf("tables %s and %s: %w", a.ID(), b.ID(), err)
		}
	}()
	d := &Difference{}
	for i, own := range a.Axes() {
		if err := d.axis(i, own, b.Axes()[i]); err != nil {
			return nil, err
		}
	}
	conv, err := d.convert("values", b.Unit(), a.Unit())
	if err != nil {
		return nil, err
	}
	atA, errA := nodesOn(a, d.Axes)
	atB, errB := nodesOn(b, d.Axes)
	if err := cmp.Or(errA, errB); err != nil {
		return nil, err
	}
	first, status := lay(a, atA, out)
	second, of := lay(b, atB, Hold)
	d.Values, d.Status = make([]float64, len(first)), status
	for i := range first {
		if !conv.Identity() {
			second[i] = conv.Apply(second[i])
		}
		d.Values[i], d.Status[i] = second[i]-first[i], max(status[i], of[i])
	}
	d.summarize()
	d.From, d.To = tables.Number(first[d.Node]), tables.Number(second[d.Node])
	return d, nil
}

// axis finds the union of both tables' breakpoints along x, 0, or y, 1.
func (d *Difference) axis(i int, a, b *tables.Axis) (err error) {
	name := "xy"[i : i+1]
	if d.Axes[i], err = union(a, b); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	if a != nil && b != nil {
		_, err = d.convert(name+" axis", b.Unit(), a.Unit())
	}
	return err
}

// convert finds a conversion, and notes it where it changes anything.
func (d *Difference) convert(what, from, to string) (unit.Conversion, error) {
	c, err := unit.Find(from, to)
	if err != nil {
		return c, fmt.Errorf("%s: %w", what, err)
	}
	if !c.Identity() {
		d.Notes = append(d.Notes, fmt.Sprintf("%s: %s read as %s", what, from, to))
	}
	return c, nil
}

// summarize finds the largest and integrates.
func (d *Difference) summarize() {
	d.Largest = -1
	for i, v := range d.Values {
		if math.IsNaN(v) {
			d.Empty++
			continue
		}
		if size := math.Abs(v); size > d.Largest {
			d.Largest, d.Node = size, i
		}
	}
	if d.Largest < 0 { // every node is empty
		d.Largest = 0
	}
	d.At = d.Axes.At(d.Node)
	if d.Largest == 0 {
		return
	}
	// In shares of the largest, so that no square is past what a double holds.
	part := make([]float64, len(d.Values))
	for i, v := range d.Values {
		part[i] = v / d.Largest
	}
	d.Mean, d.RMS = integrate(d.Axes[0], d.Axes[1], part)
	d.Mean, d.RMS = d.Mean*d.Largest, d.RMS*d.Largest
}

// integrate is the mean and the root mean square of a bilinear surface over the
// box of its axes. In each cell both integrals are exact: with a, b, c, d at the
// corners the mean is their average, and the mean square follows from
// ∫ along each axis of (linear)² = (p² + pq + q²)/3. Along an axis of one
// breakpoint there is nothing to integrate.
func integrate(x, y *tables.Axis, values []float64) (mean, rms float64) {
	cols := x.Len()
	var area, sum, square float64
	each(y, func(r0, r1 int, h float64) {
		each(x, func(c0, c1 int, w float64) {
			a, b := values[r0*cols+c0], values[r0*cols+c1]
			c, d := values[r1*cols+c0], values[r1*cols+c1]
			m := (a + b + c + d) / 4
			if math.IsNaN(m) {
				return
			}
			part := float64(w * h)
			area += part
			sum += float64(part * m)
			near := float64(a*a) + float64(a*b) + float64(b*b)
			far := float64(c*c) + float64(c*d) + float64(d*d)
			cross := float64(a*c) + float64(b*d) + (float64(a*d)+float64(b*c))/2
			square += float64(part * (near + far + cross) / 9)
		})
	})
	if area == 0 {
		return 0, 0
	}
	return sum / area, math.Sqrt(square / area)
}

// each calls f for every gap of an axis with its share of the axis; an axis of
// one breakpoint is one gap from that breakpoint to itself.
func each(a *tables.Axis, f func(from, to int, share float64)) {
	if a == nil || a.Len() == 1 {
		f(0, 0, 1)
		return
	}
	p := a.Points()
	span := p[len(p)-1]/4 - p[0]/4
	for i := 1; i < len(p); i++ {
		f(i-1, i, (p[i]/4-p[i-1]/4)/span)
	}
}

// lay reads a table at every node, with each node's status. It is not for Refuse, which
// its callers see to.
func lay(t *tables.Table, p nodes, out Outside) ([]float64, []Status) {
	bx, by := brackets(t.X(), p[0], out), brackets(t.Y(), p[1], out)
	status := make([]Status, 0, len(bx)*len(by))
	for _, y := range by {
		for _, x := range bx {
			status = append(status, max(x.status, y.status))
		}
	}
	return grid(nil, t.Values(), t.Columns(), bx, by), status
}

// Lay is the table read at every node of axes, held at its edges, row after row.
func Lay(t *tables.Table, axes tables.Axes) ([]float64, error) {
	p, err := nodesOn(t, axes)
	if err != nil {
		return nil, err
	}
	values, _ := lay(t, p, Hold)
	return values, nil
}

// LayOn is a table read at every cell of another that has the same axes, held at its
// edges, in that one's unit.
func LayOn(t, like *tables.Table) ([]float64, error) {
	if (t.X() == nil) != (like.X() == nil) || (t.Y() == nil) != (like.Y() == nil) {
		return nil, errors.New("one has an axis that the other has not")
	}
	c, err := unit.Find(t.Unit(), like.Unit())
	if err != nil {
		return nil, err
	}
	values, err := Lay(t, like.Axes())
	return c.ApplyAll(values), err
}
