package view

import (
	"cmp"
	"fmt"
	"math"

	"calsplice/interp/cells"
	"calsplice/tables"
)

// Drive is what people ask of a drive first, in words and with its grids: are
// the trims normal, is retard more than noise, how much rests on too little.
func Drive(d *cells.Drive) (*View, error) {
	v, err := Cells(d.Steady, "mean")
	if err != nil {
		return nil, err
	}
	words, err := DriveWords(d)
	if err != nil {
		return nil, err
	}
	if d.Retard != nil { // by all samples, in place of the steady ones
		all, err := Cells(d.Retard, "mean")
		if err != nil {
			return nil, err
		}
		all.Parts[0].Heading += ", all samples"
		for i := range v.Parts {
			if v.Parts[i].Heading == withUnit(cells.KnockRetard, "deg") {
				v.Parts[i] = all.Parts[0]
				v.Parts[i].Text = nil // the words stand first
			}
		}
	}
	v.Title, v.Lead = "A drive: "+sources(d.Steady), append(words, v.Lead...)
	return v, nil
}

// DriveWords answers in sentences.
func DriveWords(d *cells.Drive) (words []string, err error) {
	trims, err := trimWords(d.Steady)
	if err != nil {
		return nil, err
	}
	words = append(words, trims...)
	if d.Retard == nil {
		return append(words, "Knock: the logs have no knock_retard."), nil
	}
	ch := channel{doc: d.Retard, name: knockRetard}
	return append(append(words, "Knock "+cmp.Or(ch.retard(), "retard: no samples")+"; explain says why spark is pulled."), ch.thin()...), nil
}

func trimWords(doc *tables.Calibration) ([]string, error) {
	ch := channel{doc: doc, name: cells.Trim}
	mean := ch.table("mean")
	if mean == nil {
		return []string{"Trims: the logs have no fuel trims."}, nil
	}
	v, err := cells.Judge(doc, cells.Trim)
	if err != nil {
		return nil, err
	}
	what := "Trims are normal"
	switch {
	case v.CellsKnown == 0:
		return []string{"Trims: no steady samples."}, nil
	case *v.CellShare < 1:
		what = "Trims are not normal everywhere"
		if math.Abs(v.Mean) > v.Bound {
			what = "Trims are not normal"
		}
	}
	line := fmt.Sprintf("%s: %s (within ±5 %% is commonly accepted as normal: common practice, no source).", what, standing(mean.Unit(), mean.X(), mean.Y(), v))
	return append([]string{line}, ch.thin()...), nil
}

// thin counts the cells that rest on too little.
func (ch channel) thin() []string {
	count, visits := ch.table("count"), ch.table("visits")
	few, all := 0, 0
	for i, n := range count.Values() {
		if !(n > 0) {
			continue
		}
		all++
		if n < fewSamples || visits.Values()[i] < fewVisits {
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
	mean, worst := ch.table("mean"), ch.table("p95")
	if worst == nil {
		worst = mean
	}
	count, visits := ch.table("count"), ch.table("visits")
	if ch.name != knockRetard || mean == nil || count == nil {
		return ""
	}
	sum, n, at := 0.0, 0.0, -1
	for i, v := range mean.Values() {
		k := count.Values()[i]
		if math.IsNaN(v) || !(k > 0) {
			continue
		}
		sum, n = sum+float64(k*v), n+k
		row, column := i/mean.Columns(), i%mean.Columns()
		if k >= fewSamples && (visits == nil || valueAt(visits, row, column) >= fewVisits) && (at < 0 || worst.Values()[i] > worst.Values()[at]) {
			at = i
		}
	}
	switch {
	case n == 0:
		return ""
	case at < 0:
		return fmt.Sprintf("retard: mean %s deg; no cell has enough samples and visits to say more", tables.Fixed(sum/n, 2))
	}
	return retardWords(sum/n, worst.Values()[at], mean.Where(at))
}
