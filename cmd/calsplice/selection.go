package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"calsplice/merge"
	"calsplice/tables"
	"calsplice/tables/tablefile"

	"github.com/urfave/cli/v2"
)

// manyValue collects a flag that may be given several times. The command
// library's own list would cut its values at commas.
type manyValue struct{ list []string }

func (m *manyValue) Set(s string) error { m.list = append(m.list, s); return nil }
func (m *manyValue) String() string     { return strings.Join(m.list, " ") }

// manyFlag is a flag that may be given several times; read it with [many].
func manyFlag(name, usage string) cli.Flag {
	return &cli.GenericFlag{Name: name, Usage: usage, Value: &manyValue{}}
}

func many(c *cli.Context, name string) []string {
	if m, ok := c.Generic(name).(*manyValue); ok && m != nil {
		return m.list
	}
	return nil
}

// selection reads --table and --at, which name tables by pattern, and cells.
func selection(c *cli.Context) (merge.Selection, error) {
	s := merge.Selection{Tables: many(c, "table")}
	for _, at := range many(c, "at") {
		b, err := merge.ParseBlock(at)
		if err != nil {
			return s, err
		}
		s.Cells = append(s.Cells, b)
	}
	return s, s.Validate()
}

// readTwo reads the two documents that the arguments name; one of them may be
// standard input.
func readTwo(c *cli.Context) (a, b *tables.Calibration, err error) {
	docs, err := readAll(c, c.Args().Slice()...)
	if err != nil {
		return nil, nil, err
	}
	return docs[0], docs[1], nil
}

// readAll reads documents, telling the faults of all of them.
func readAll(c *cli.Context, paths ...string) ([]*tables.Calibration, error) {
	var docs []*tables.Calibration
	var faults []error
	stdin := 0
	for _, p := range paths {
		if p == "-" {
			if stdin++; stdin > 1 {
				return nil, fmt.Errorf("only one document can be standard input")
			}
		}
		doc, cautions, err := tablefile.ReadWithCautions(p, c.App.Reader)
		if err != nil {
			faults = append(faults, err)
			continue
		}
		printCautions(c, cautions.Lines()...)
		docs = append(docs, doc)
	}
	return docs, errors.Join(faults...)
}

// wantTables refuses a pattern that no table of any document matches.
func wantTables(only merge.Selection, docs ...*tables.Calibration) error {
	for _, p := range only.Tables {
		one := merge.Selection{Tables: []string{p}}
		hit := false
		for _, d := range docs {
			for _, id := range d.IDs() {
				hit = hit || one.Table(id)
			}
		}
		if !hit {
			return fmt.Errorf("no table matches %s", tables.Quote(p))
		}
	}
	return nil
}

// wantBounds refuses a tolerance for a table that no document has.
func wantBounds(t merge.Tolerance, docs ...*tables.Calibration) error {
	for _, b := range append(slices.Clone(t.Abs), t.Rel...) {
		if b.Table == "" {
			continue
		}
		if err := wantTables(merge.Selection{Tables: []string{b.Table}}, docs...); err != nil {
			return fmt.Errorf("a tolerance is for a table that is not there: %w", err)
		}
	}
	return nil
}

func toleranceFlags(c *cli.Context) (merge.Tolerance, error) {
	var t merge.Tolerance
	for _, p := range []struct {
		flag string
		to   *[]merge.Bound
	}{{"abs-tol", &t.Abs}, {"rel-tol", &t.Rel}} {
		for _, s := range many(c, p.flag) {
			b, err := merge.ParseBound(s)
			if err != nil {
				return t, fmt.Errorf("--%s: %w", p.flag, err)
			}
			*p.to = append(*p.to, b)
		}
	}
	return t, nil
}
