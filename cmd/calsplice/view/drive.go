package view

import (
	"cmp"
	"fmt"
	"math"
	"strings"

	"calsplice/interp/cells"
	"calsplice/tables"
)

// Stage is a drive before or after the work: its cells, how its trims stand, and why,
// as JSON has it.
type Stage struct {
	Drive     *cells.Drive   `json:"-"`
	Trims     *cells.Verdict `json:"trims"`   // null where not known
	Explained *Explanation   `json:"explain"` // null where not explained
	Why       string         `json:"why"`     // it is not
}

// NewStage judges a drive.
func NewStage(d *cells.Drive) (*Stage, error) {
	s := &Stage{Drive: d}
	if d.Steady.Table(cells.Trim+".mean") == nil {
		return s, nil
	}
	v, err := cells.Judge(d.Steady, cells.Trim)
	if v.CellsKnown > 0 {
		s.Trims = &v
	}
	return s, err
}

func (s *Stage) trims() *cells.Verdict {
	if s == nil {
		return nil
	}
	return s.Trims
}

// why is what is explained; nothing where it is not.
func (s *Stage) why() (e Explanation) {
	if s.Explained != nil {
		e = *s.Explained
	}
	return e
}

// verdicts are the causes, as far as they are known.
func (s *Stage) verdicts() []string {
	var lines words
	if r := s.why().Trims; r != nil {
		alike := r.Leading().Alike
		lines.when(true, "Trims: %s", r.Verdict)
		lines.when(len(alike) > 0, "Trims alone cannot tell this from: %s", strings.Join(alike, "; "))
	}
	if k := s.why().Knock; k != nil {
		lines.when(true, "Knock: %s", k.Verdict)
		lines = append(lines, k.Inspect...)
	}
	lines.when(s.Why != "", "Not explained: %s", s.Why)
	for i, l := range lines {
		lines[i] = strings.TrimSuffix(l, ".") + "."
	}
	return lines
}

// Drive is what people ask of a drive first, in words and with its grids: are
// the trims normal, is retard more than noise, how much rests on too little.
func Drive(s *Stage) *View {
	v := cellsView(s.Drive.Steady, "mean")
	if s.Drive.Retard != nil { // by all samples, in place of the steady ones
		all := cellsView(s.Drive.Retard, "mean").Parts[0]
		all.Heading += ", all samples"
		all.Text = nil // the words stand first
		for i := range v.Parts {
			if v.Parts[i].Heading == withUnit(cells.KnockRetard, "deg") {
				v.Parts[i] = all
			}
		}
	}
	v.Title, v.Lead = "A drive: "+sources(s.Drive.Steady), append(s.words(), v.Lead...)
	return v
}

// words answer in sentences. Of knock the verdict says more, where there is one.
func (s *Stage) words() []string {
	words := s.trimWords()
	switch {
	case s.why().Knock != nil:
		return words
	case s.Drive.Retard == nil:
		return append(words, "Knock: the logs have no knock_retard.")
	}
	ch := newChannel(s.Drive.Retard, knockRetard)
	return append(append(words, "Knock "+cmp.Or(ch.retard(), "retard: no samples")+"; explain says why spark is pulled."), ch.thin()...)
}

func (s *Stage) trimWords() []string {
	ch := newChannel(s.Drive.Steady, cells.Trim)
	mean, v := ch.mean, s.Trims
	what := "Trims are normal"
	switch {
	case mean == nil:
		return []string{"Trims: the logs have no fuel trims."}
	case v == nil:
		return []string{"Trims: no steady samples."}
	case v.CellShare < 1:
		what = "Trims are not normal everywhere"
		if math.Abs(v.Mean) > v.Bound {
			what = "Trims are not normal"
		}
	}
	line := fmt.Sprintf("%s: %s (within ±5 %% is commonly accepted as normal: common practice, no source).", what, standing(mean.Unit(), mean.X(), mean.Y(), *v))
	return append([]string{line}, ch.thin()...)
}

// thin counts the cells that rest on too little.
func (ch channel) thin() []string {
	few, all := 0, 0
	for i, n := range ch.count.Values() {
		if !(n > 0) {
			continue
		}
		if all++; ch.isThin(i) {
			few++
		}
	}
	if few == 0 {
		return nil
	}
	return []string{fmt.Sprintf("%s: %d of %s have under %d samples or %d visits, too few to rely on.", ch.name, few, tables.Plural(all, "cell"), fewSamples, fewVisits)}
}

const (
	knockRetard = cells.KnockRetard
	noiseRetard = 1.0 // degrees: under it now and then is sensor noise (common practice, no source)
)

// retardWords says whether a drive's knock retard is noise or more, by its mean
// and its worst cell.
func retardWords(mean, worst float64, at string) string {
	what := "no more than sensor noise"
	if worst >= noiseRetard || mean >= noiseRetard {
		what = "more than sensor noise"
	}
	return fmt.Sprintf("retard is %s: mean %s deg, worst %s deg at %s (under about 1 deg now and then is noise: common practice, no source)",
		what, tables.Fixed(mean, 2), tables.Fixed(worst, 2), at)
}

// retard judges knock retard by the mean of all cells and the worst cell that
// has enough evidence: by its 95th percentile, or its mean where that is not
// given.
func (ch channel) retard() string {
	worst := cmp.Or(ch.p95, ch.mean)
	if ch.name != knockRetard || ch.mean == nil || ch.count == nil {
		return ""
	}
	sum, n, at := 0.0, 0.0, -1
	for i, v := range ch.mean.Values() {
		k := ch.count.Values()[i]
		if math.IsNaN(v) || !(k > 0) {
			continue
		}
		sum, n = sum+float64(k*v), n+k
		if !ch.isThin(i) && (at < 0 || worst.Values()[i] > worst.Values()[at]) {
			at = i
		}
	}
	switch {
	case n == 0:
		return ""
	case at < 0:
		return fmt.Sprintf("retard: mean %s deg; no cell has enough samples and visits to say more", tables.Fixed(sum/n, 2))
	}
	return retardWords(sum/n, worst.Values()[at], ch.mean.Where(at))
}

// Drives is what two drives have changed: for each channel the change of each
// cell where chance does not explain it, and how the drives compare with what is
// normal.
func Drives(old, new *cells.Drive, compared *cells.Comparison) *View {
	v := &View{Title: "Two drives compared", Kind: fmt.Sprintf("Before: %s. After: %s.", sources(old.Steady), sources(new.Steady)), Standing: true}
	v.Verdict = drivesVerdict(compared)
	for i := range compared.Channels {
		ch := &compared.Channels[i]
		v.Lead = append(v.Lead, withUnit(ch.Channel, ch.Unit)+": "+changedWords(ch))
		p := driveParts(ch, old, new)
		v.Parts = append(v.Parts, p)
	}
	v.Parts = append(v.Parts, Part{Text: []string{fmt.Sprintf("+ rose, − fell, ~ chance explains it, ? too few visits to test, · not in both drives. "+
		"On average at most %.0f %% of the cells marked as changed are false alarms. Method: Welch's test on the visits, Benjamini–Hochberg.", 100*cells.Rate)}})
	for _, n := range compared.OnlyOld {
		v.Last = append(v.Last, n+" is in the first drive's cells only")
	}
	for _, n := range compared.OnlyNew {
		v.Last = append(v.Last, n+" is in the second drive's cells only")
	}
	return v
}

func changedWords(ch *cells.ChannelChange) string {
	return fmt.Sprintf("%d of %s tested changed more than chance explains", ch.Changed, tables.Plural(ch.Tested, "cell"))
}

func withUnit(name, unit string) string {
	if unit == "" || unit == "1" {
		return name
	}
	return name + " [" + unit + "]"
}

func driveParts(ch *cells.ChannelChange, old, new *cells.Drive) Part {
	p := Part{Heading: withUnit(ch.Channel, ch.Unit), Facts: []Fact{{"Before", standing(ch.Unit, ch.X, ch.Y, ch.Before)}, {"After", standing(ch.Unit, ch.X, ch.Y, ch.After)}}}
	switch {
	case ch.Channel == knockRetard:
		for k, d := range []*cells.Drive{old, new} {
			if s := newChannel(d.Retard, knockRetard).retard(); s != "" {
				p.Text = append(p.Text, []string{"before: ", "after: "}[k]+s)
			}
		}
	case ch.Before.Bound > 0:
		p.Note = "Trims within ±5 % are commonly accepted as normal (common practice, no source)."
	}
	rows, columns := length(ch.Y), length(ch.X)
	if !fits(rows, columns, 3) {
		p.Text = append(p.Text, fmt.Sprintf("%d × %d cells are too many to print.", rows, columns))
		return p
	}
	p.Grids = driveGrids(ch)
	return p
}

// driveGrids are a channel before and after, for pages, and its change.
func driveGrids(ch *cells.ChannelChange) []Grid {
	at := map[[2]int]*cells.CellChange{}
	var values, changes []float64
	for i := range ch.Cells {
		c := &ch.Cells[i]
		at[c.At] = c
		values = append(values, float64(c.Before), float64(c.After))
		if c.Changed {
			changes = append(changes, float64(c.Change))
		}
	}
	none := tables.Number(math.NaN())
	grid := func(name string, cell func(c *cells.CellChange) Cell) Grid {
		return newGrid(name, ch.Unit, ch.X, ch.Y, func(r, col int) Cell {
			return cell(cmp.Or(at[[2]int{r, col}], &cells.CellChange{Before: none, After: none, Change: none}))
		})
	}
	extent, change := sizes(values).largest(), scaleOf(ch.Channel, sizes(changes).largest())
	shades, places := scaleOf(ch.Channel, extent), decimals([]float64{extent + 0.5})
	state := func(v tables.Number) Cell { return shades.cell(float64(v), tables.Signed(float64(v), places)) }
	grids := []Grid{
		grid("before", func(c *cells.CellChange) Cell { return state(c.Before) }),
		grid("after", func(c *cells.CellChange) Cell { return state(c.After) }),
		grid("change", func(c *cells.CellChange) Cell { return changeCell(c, change, decimals(changes)) }),
	}
	grids[0].On, grids[1].On = OnPages, OnPages
	grids[1].Legend, grids[2].Legend = shades.legend(ch.Channel == knockRetard), change.legend(false)
	return grids
}

func changeCell(c *cells.CellChange, shades scale, places int) Cell {
	if !c.Change.Known() {
		return empty
	}
	change, q := float64(c.Change), fmt.Sprintf("q = %.2g", c.Q)
	switch {
	case !c.P.Known():
		return Cell{Text: "?", Mark: Faint, Note: "too few visits to test"}
	case !c.Changed:
		return Cell{Text: "~", Mark: Faint, Note: tables.Signed(change, 2) + ", chance explains it, " + q}
	}
	cell := shades.cell(change, tables.Signed(change, places))
	cell.Mark, cell.Note = Changed, q
	return cell
}

// standing says how a drive's cells compare with what is normal.
func standing(of string, x, y *tables.Axis, v cells.Verdict) string {
	if v.CellsKnown == 0 {
		return "no samples"
	}
	unit := blankUnit(of)
	s := fmt.Sprintf("mean %s%s, worst cell %s%s at %s", tables.Signed(v.Mean, 2), unit, tables.Signed(v.Worst, 2), unit,
		where(x, y, v.WorstAt[0], v.WorstAt[1]))
	if v.CellShare.Known() {
		s = fmt.Sprintf("%.0f %% of cells and %.0f %% of time within ±%s%s, ", 100*v.CellShare, 100*v.TimeShare, tables.Shown(v.Bound), unit) + s
	}
	return s
}

func length(a *tables.Axis) int {
	if a == nil {
		return 1
	}
	return a.Len()
}

// drivesVerdict says of each channel whether it changed.
func drivesVerdict(compared *cells.Comparison) string {
	var list []string
	for i := range compared.Channels {
		ch := &compared.Channels[i]
		name := strings.ReplaceAll(ch.Channel, "_", " ")
		switch {
		case ch.Tested == 0:
			list = append(list, name+": no cell has enough visits in both drives")
		case ch.Changed == 0:
			list = append(list, name+": no change that chance does not explain")
		case ch.Before.CellsKnown > 0 && ch.After.CellsKnown > 0:
			list = append(list, fmt.Sprintf("%s: on average %s before, %s after", name, tables.Signed(ch.Before.Mean, 1)+blankUnit(ch.Unit), tables.Signed(ch.After.Mean, 1)+blankUnit(ch.Unit)))
		default:
			list = append(list, fmt.Sprintf("%s: %d of %s changed", name, ch.Changed, tables.Plural(ch.Tested, "cell")))
		}
	}
	if list == nil {
		return ""
	}
	return sentence(strings.Join(list, "; "))
}
