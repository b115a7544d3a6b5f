package cells

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"calsplice/tables"
	"calsplice/tables/drivelog"
)

// What a person asks of a drive before anything else, by the channels' names.
const (
	Trim        = "trim"
	KnockRetard = "knock_retard"
)

// Drive is the answer: are the trims normal, and is the retard more than noise.
// Trims count where the engine was steady. Knock is loudest where the loop is
// open and the engine is not steady, so retard is judged by all samples.
type Drive struct {
	Steady *tables.Calibration // trim and retard, whichever the logs have
	Retard *tables.Calibration // retard of all samples; nil where the logs have none
}

// SparkTable is the id of the one table on whose axes a drive is looked at where
// no other is named: the one with role spark.advance.
func SparkTable(cal *tables.Calibration) (string, error) {
	list := cal.ByRole(tables.SparkAdvance)
	if len(list) == 1 {
		return list[0].ID(), nil
	}
	var ids []string
	for _, t := range cal.Tables() {
		if t.X() != nil {
			ids = append(ids, t.ID())
		}
	}
	return "", fmt.Errorf("%s with role %s, expected one, or a table named behind a colon: %s", tables.Plural(len(list), "table"), tables.SparkAdvance, strings.Join(ids, ", "))
}

// mostOpen is how many logs are kept open between the look at what all of them have and
// their reading; some systems let a program have 256 files open. Others are opened anew,
// but for standard input, which cannot be.
const mostOpen = 64

// GatherDrive gathers what the logs have of trim and retard, in one reading of each.
// The rest of the question is spec's; its channels and filters are set here.
func GatherDrive(ctx context.Context, logs []Log, spec Spec) (*Drive, []string, error) {
	spec.Values = []string{Trim, KnockRetard}
	opened := make([]Log, len(logs))
	for i, l := range logs {
		log, err := l.Open()
		if err != nil {
			return nil, nil, err
		}
		err = log.Err()
		// Only what all logs have can be averaged over all of them.
		spec.Values = slices.DeleteFunc(spec.Values, func(name string) bool { return !log.Has(name) })
		if i < mostOpen || l.Name == "-" {
			defer log.Close()
			opened[i] = Log{l.Name, func() (*drivelog.Log, error) { return log, nil }}
		} else {
			log.Close()
			opened[i] = l
		}
		if err != nil {
			return nil, nil, err
		}
	}
	if len(spec.Values) == 0 {
		return nil, nil, errors.New("the logs have neither fuel trims nor knock_retard in common: --value CHANNEL says what to average; calsplice channels LOG lists what there is")
	}
	// Two questions of one reading: the trims where it is steady, and all of the retard.
	specs := []Spec{spec}
	specs[0].Filters.Steady = true
	if slices.Contains(spec.Values, KnockRetard) {
		spec.Values = []string{KnockRetard}
		specs = append(specs, spec)
	}
	d := &Drive{}
	grids, notes, err := gather(ctx, opened, specs...)
	for k, doc := range []**tables.Calibration{&d.Steady, &d.Retard}[:len(grids)] {
		if err == nil {
			*doc, err = grids[k].Document()
		}
	}
	return d, notes, err
}

// Judge is how a channel of cell averages stands against what is normal.
func Judge(doc *tables.Calibration, channel string) (Verdict, error) {
	if !has(doc, channel) {
		return Verdict{}, fmt.Errorf("the cells have no channel %s", tables.Quote(channel))
	}
	e, err := sideOf(doc).evidence(channel)
	if err != nil {
		return Verdict{}, err
	}
	return e.verdict(doc.Table(channel + ".mean").Columns()), nil
}
