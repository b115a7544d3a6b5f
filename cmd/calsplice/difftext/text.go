// Package difftext writes what differs between two documents, and what a merge
// did, for a person to read in a terminal of 80 columns.
package difftext

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"calsplice/cmd/calsplice/report"
	"calsplice/cmd/calsplice/text"
	"calsplice/merge"
	"calsplice/tables"
	"calsplice/tables/strictjson"
)

// width is the number of columns that lines are broken at.
const width = 80

// JSON writes a report for machines.
func JSON(w io.Writer, v any) error {
	return strictjson.Print(w, v)
}

// Write writes a report in full: every field, axis, block and cell that
// differs, and how much the tolerance hides.
func Write(out io.Writer, r *merge.Report, t merge.Tolerance) error {
	return Print(&text.Printer{W: out, Width: width}, r, t)
}

// Print is [Write] in the width and the colours of a terminal: a change is
// shaded by its sign and its size.
func Print(p *text.Printer, r *merge.Report, t merge.Tolerance) error {
	w := &writer{b: bufio.NewWriter(p.W), p: p}
	if r.Identical {
		return w.b.Flush()
	}
	if len(r.Document) > 0 || r.Order != nil {
		w.document(r)
	}
	for i := range r.Tables {
		w.table(r, &r.Tables[i])
	}
	w.line(0, Summary(r))
	if r.Hidden > 0 || len(r.Tolerance) > 0 {
		w.line(0, "Tolerance: "+ToleranceWords(t)+".")
	}
	return w.b.Flush()
}

// Summary is the whole of a report in one sentence.
func Summary(r *merge.Report) string {
	var parts []string
	if n := len(r.Document); n > 0 {
		parts = append(parts, tables.Plural(n, "document field"))
	}
	if r.Order != nil {
		parts = append(parts, "the order of tables")
	}
	if n := len(r.Tables); n > 0 {
		s := tables.Plural(n, "table")
		if len(r.Cells) > 0 {
			s += " (" + tables.Plural(len(r.Cells), "cell") + ")"
		}
		parts = append(parts, s)
	}
	s := "No difference above the tolerance"
	if len(parts) > 0 {
		verb := " differ"
		if len(parts) == 1 && (len(r.Document) == 1 || len(r.Tables) == 1 || r.Order != nil) {
			verb = " differs"
		}
		s = strings.ToUpper(parts[0][:1]) + strings.Join(parts, ", ")[1:] + verb
	}
	if r.Hidden > 0 {
		s += "; " + Hidden(r.Hidden)
	}
	return s + "."
}

// Hidden says how many cells a tolerance hides.
func Hidden(n int) string {
	if n == 1 {
		return "1 cell differs by less than the tolerance"
	}
	return tables.Plural(n, "cell") + " differ by less than the tolerance"
}

// ToleranceWords says which tolerance was asked for.
func ToleranceWords(t merge.Tolerance) string {
	var parts []string
	all := false
	add := func(bounds []merge.Bound, text func(float64) string) {
		for _, b := range bounds {
			s := text(b.Value)
			if b.Table != "" {
				s += " for " + tables.Clean(b.Table)
			} else {
				all = true
			}
			parts = append(parts, s)
		}
	}
	add(t.Abs, tables.FormatValue)
	add(t.Rel, func(v float64) string { return tables.FormatValue(report.Difference(0, v*100)) + " %" })
	if !all {
		rest := "half of each table's resolution"
		if len(parts) > 0 {
			rest = "else half of each table's resolution"
		}
		parts = append(parts, rest)
	}
	return strings.Join(parts, ", ")
}

type writer struct {
	b    *bufio.Writer
	p    *text.Printer // nil for plain text in 80 columns
	most float64       // size of the largest change of the table at hand
}

func (w *writer) width() int {
	if w.p == nil {
		return width
	}
	return w.p.Width
}

// shade puts a change on the shade of its sign and size.
func (w *writer) shade(s string, by float64) string {
	if w.p == nil || w.p.Depth == text.None {
		return s
	}
	return w.p.Paint(s, text.Cell{Shade: text.Sign(by, w.most)})
}

// line writes a line, broken at blanks where it is too long.
func (w *writer) line(indent int, s string) {
	pad := strings.Repeat(" ", indent)
	for first := true; ; first = false {
		room := w.width() - indent
		if !first {
			room -= 2
			w.b.WriteString("  ")
		}
		cut := breakAt(s, room)
		w.b.WriteString(pad + strings.TrimRight(s[:cut], " ") + "\n")
		if s = strings.TrimLeft(s[cut:], " "); s == "" {
			return
		}
	}
}

// breakAt is the number of bytes of s to put on a line of so many columns.
// Colours take no room, and are not broken.
func breakAt(s string, room int) int {
	last, n := 0, 0
	escape, coloured := false, false
	for i, r := range s {
		if n > room && last > 0 {
			return last
		}
		switch {
		case r == '\x1b':
			escape = true
			coloured = !coloured
			continue
		case escape:
			escape = r != 'm'
			continue
		case r == ' ' && !coloured:
			last = i
		}
		n++
	}
	if n <= room || last == 0 {
		return len(s)
	}
	return last
}

func (w *writer) document(r *merge.Report) {
	for _, c := range r.Document {
		w.field(0, c)
	}
	if r.Order != nil {
		w.line(0, "order of tables: "+strings.Join(r.Order.From, ", ")+" → "+strings.Join(r.Order.To, ", "))
	}
	w.b.WriteByte('\n')
}

func (w *writer) field(indent int, c merge.FieldChange) {
	switch {
	case c.Words != nil:
		w.line(indent, c.Field+": "+Words(c.Words))
	case c.From == "" && c.To == "":
		w.line(indent, c.Field+" differs")
	default:
		w.line(indent, c.Field+": "+c.From+" → "+c.To)
	}
}

// Words writes text with what one side only has in brackets: [-gone-]{+new+}.
func Words(list []merge.Word) string {
	var b strings.Builder
	for _, word := range list {
		text := tables.Clean(strings.ReplaceAll(word.Text, "\n", " / "))
		switch word.Op {
		case "remove":
			text = "[-" + text + "-]"
		case "add":
			text = "{+" + text + "+}"
		}
		b.WriteString(text)
	}
	return b.String()
}

// table writes one table: its name, then the finding, or all that differs.
func (w *writer) table(r *merge.Report, t *merge.TableReport) {
	title := t.Table
	if t.Title != "" {
		title += " · " + tables.Clean(t.Title)
	}
	if t.Unit != "" {
		title += " [" + tables.Clean(t.Unit) + "]"
	}
	switch t.Change {
	case "added", "removed":
		shown := t.New
		if shown == nil {
			shown = t.Old
		}
		w.line(0, title+": table "+t.Change+", "+size(shown))
		w.b.WriteByte('\n')
		return
	}
	w.line(0, title)
	w.most = 0
	cells := r.Cells[t.Cells[0]:t.Cells[1]]
	for _, c := range cells {
		w.most = max(w.most, math.Abs(float64(c.To-c.From)))
	}
	if t.Finding != "" {
		w.line(2, t.Finding)
	}
	for _, c := range t.Fields {
		w.field(2, c)
	}
	for _, c := range t.Axes {
		w.axis(c)
	}
	if t.Surface != nil && !t.Surface.Unchanged {
		w.surface(t)
	}
	for _, s := range t.Said {
		w.line(2, s)
	}
	for _, b := range r.Blocks[t.Blocks[0]:t.Blocks[1]] {
		if b.Changed > 1 || len(t.Rest) == 0 {
			w.block(cells, t, b)
		}
	}
	for _, i := range t.Rest {
		w.cell(t, r.Cells[i])
	}
	if t.Hidden > 0 {
		w.line(2, Hidden(t.Hidden))
	}
	w.b.WriteByte('\n')
}

func size(t *tables.Table) string {
	switch {
	case t.X() == nil:
		return "a scalar, " + tables.FormatValue(t.At(0, 0))
	case t.Y() == nil:
		return "a curve of " + tables.Plural(t.Columns(), "cell")
	}
	return fmt.Sprintf("a map of %d × %d", t.Rows(), t.Columns())
}

func (w *writer) axis(c merge.AxisChange) {
	name := c.Axis + " axis, " + tables.Clean(c.Quantity)
	unit := blankUnit(c.Unit)
	switch c.Change {
	case "rescaled":
		w.line(2, name+": every breakpoint × "+tables.FormatValue(*c.Factor))
	case "added", "removed":
		w.line(2, name+": axis "+c.Change)
	case "renamed", "replaced":
		w.line(2, name+": "+c.From+" → "+c.To)
	}
	if c.Change != "breakpoints" {
		return
	}
	if len(c.Moved) > 3 {
		pairs := make([]string, len(c.Moved))
		for i, m := range c.Moved {
			pairs[i] = num(m[0]) + " → " + num(m[1])
		}
		w.line(2, name+": breakpoints moved: "+strings.Join(pairs, ", ")+unit)
	} else {
		for _, m := range c.Moved {
			w.line(2, name+": breakpoint "+num(m[0])+" moved to "+num(m[1])+unit)
		}
	}
	if len(c.Added) > 0 {
		w.line(2, name+": "+breakpoints(len(c.Added))+" added: "+join(c.Added)+unit)
	}
	if len(c.Removed) > 0 {
		w.line(2, name+": "+breakpoints(len(c.Removed))+" removed: "+join(c.Removed)+unit)
	}
}

func breakpoints(n int) string {
	if n == 1 {
		return "breakpoint"
	}
	return "breakpoints"
}

func join(list []merge.Number) string {
	words := make([]string, len(list))
	for i, v := range list {
		words[i] = num(v)
	}
	return strings.Join(words, ", ")
}

func num(v merge.Number) string {
	if math.IsNaN(float64(v)) {
		return "empty"
	}
	return tables.FormatValue(float64(v))
}

func blankUnit(u string) string {
	if u == "" {
		return ""
	}
	return " " + tables.Clean(u)
}

func (w *writer) surface(t *merge.TableReport) {
	s := t.Surface
	at := ""
	units := []string{s.XUnit, s.YUnit}
	names := []string{s.Axes[0], s.Axes[1]}
	for i, v := range s.At {
		at += ", " + tables.Clean(names[i]) + " " + num(v) + blankUnit(units[i])
	}
	at = strings.TrimPrefix(at, ", ")
	unit := blankUnit(t.Old.Unit())
	w.line(2, fmt.Sprintf("surface: largest difference %s%s at %s (%s), mean %s, rms %s", short(s.Largest), unit, at, s.Worst, short(s.Mean), short(s.RMS)))
	w.line(2, fmt.Sprintf("compared on %s: %d measured, %d interpolated, %d extrapolated",
		tables.Plural(s.Measured+s.Interpolated+s.Extrapolated, "node"), s.Measured, s.Interpolated, s.Extrapolated))
}

// short is a computed figure in four digits.
func short(v merge.Number) string {
	f, err := strconv.ParseFloat(strconv.FormatFloat(float64(v), 'g', 4, 64), 64)
	if err != nil {
		return num(v)
	}
	return signed(f)
}

// signed writes a negative number with the mark that people read as minus.
func signed(v float64) string {
	if v < 0 {
		return "−" + tables.FormatValue(-v)
	}
	return tables.FormatValue(v)
}

func (w *writer) block(cells []merge.CellChange, t *merge.TableReport, b merge.BlockChange) {
	rule := b.Rule(t.Unit)
	if w.p != nil && w.p.Depth > text.None {
		rule = w.shade(rule, largest(cells, b))
	}
	if math.Abs(b.Residual) > 1e-6*scale(t.New) {
		rule += ", to within " + tables.FormatValue(roundUp(b.Residual)) + blankUnit(t.Unit)
	}
	place := b.Place()
	if t.New.Y() == nil {
		_, place, _ = strings.Cut(place, ", ") // a curve has no rows to speak of
	}
	w.line(2, place+": "+rule)
	if where := corners(t.New, b); where != "" {
		w.line(4, where)
	}
}

// largest is the largest change of a block's cells, with its sign.
func largest(cells []merge.CellChange, b merge.BlockChange) float64 {
	most := 0.0
	in := merge.Block{Table: b.Table, Rows: b.Rows, Columns: b.Columns}
	for _, c := range cells {
		if d := float64(c.To - c.From); in.Has(c.Table, c.At[0], c.At[1]) && math.Abs(d) > math.Abs(most) {
			most = d
		}
	}
	return most
}

func scale(t *tables.Table) float64 {
	most := 0.0
	for _, v := range t.Values() {
		if !math.IsNaN(v) {
			most = max(most, math.Abs(v))
		}
	}
	return most
}

// roundUp is a residual in two digits, never smaller than it is.
func roundUp(v float64) float64 {
	p := math.Pow(10, math.Floor(math.Log10(v))-1)
	r, err := strconv.ParseFloat(strconv.FormatFloat(math.Ceil(v/p*(1-1e-9))*p, 'g', 2, 64), 64)
	if err != nil || math.IsInf(r, 0) || math.IsNaN(r) {
		return v
	}
	return r
}

// corners is a block in axis units.
func corners(t *tables.Table, b merge.BlockChange) string {
	s := ""
	if y := t.Y(); y != nil {
		s = stretch(y, b.Rows)
	}
	if x := t.X(); x != nil {
		if s != "" {
			s += ", "
		}
		s += stretch(x, b.Columns)
	}
	if b.Rows == [2]int{0, t.Rows() - 1} && b.Columns == [2]int{0, t.Columns() - 1} && t.Columns() > 1 {
		return "the whole table: " + s
	}
	return s
}

func stretch(a *tables.Axis, span [2]int) string {
	s := tables.Clean(a.Quantity()) + " " + tables.FormatValue(a.At(span[0]))
	if span[0] != span[1] {
		s += "–" + tables.FormatValue(a.At(span[1]))
	}
	return s + blankUnit(a.Unit())
}

func (w *writer) cell(t *merge.TableReport, c merge.CellChange) {
	s := fmt.Sprintf("[%d, %d]", c.At[0], c.At[1])
	if c.OldAt != nil {
		s = fmt.Sprintf("[%d, %d], before at [%d, %d]", c.At[0], c.At[1], c.OldAt[0], c.OldAt[1])
	}
	from, to := float64(c.From), float64(c.To)
	s += ": " + num(c.From) + " → " + num(c.To)
	if d := report.Difference(from, to); !math.IsNaN(d) && !math.IsInf(d, 0) && d != 0 {
		s += " " + w.shade(map[bool]string{true: "(+ ", false: "(− "}[d > 0]+tables.FormatValue(math.Abs(d))+blankUnit(t.Unit)+")", d)
	}
	if at := corners(t.New, merge.BlockChange{Rows: [2]int{c.At[0], c.At[0]}, Columns: [2]int{c.At[1], c.At[1]}}); at != "" {
		s += " at " + strings.TrimPrefix(at, "the whole table: ")
	}
	w.line(2, s)
}
