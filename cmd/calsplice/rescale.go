package main

import (
	"cmp"
	"errors"
	"fmt"
	"strings"

	"github.com/urfave/cli/v2"

	"calsplice/interp"
	"calsplice/tables"
)

func rescaleCommand() *cli.Command {
	return &cli.Command{
		Name:      "rescale",
		Usage:     "put a table onto other axes",
		ArgsUsage: "CAL",
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "table", Usage: "`ID`: the table"},
			&cli.StringFlag{Name: "x", Usage: "`V,V,…`: new x breakpoints, in the axis's own unit"},
			&cli.StringFlag{Name: "y", Usage: "`V,V,…`: new y breakpoints"},
			manyFlag("points", "`AXIS=N`: x=N or y=N, place N breakpoints along that axis; may be given for both"),
			&cli.StringFlag{Name: "visited", Usage: "`CELLS`: cell averages of a drive, for --points"},
			&cli.StringFlag{Name: "like", Usage: "`CAL2[:ID]`: another table whose breakpoints to use"},
			&cli.StringFlag{Name: "method", Value: "sample", Usage: "`HOW`: sample, the old surface at the new breakpoints; or fit, the nearest surface by least squares"},
			&cli.StringFlag{Name: "outside", Value: "hold", Usage: "`HOW`: outside the old axes hold the edge value, extend its line, or refuse"},
			numberFlag(&cli.Float64Flag{Name: "within", Usage: "`V`: largest loss that needs no suggestion", DefaultText: "the resolution, or 1 % of the table's span"},
				"a number from 0", func(v float64) bool { return v >= 0 && finite(v) }),
			outFlag("`FILE`: the whole calibration with the table rescaled"),
			formatFlag(),
			jsonFlag(), colorFlag(),
		},
		Action: rescale,
	}
}

func rescale(c *cli.Context) error {
	if err := cmp.Or(needs(c, "table", "o"), twiceStdout(c)); err != nil {
		return err
	}
	method, err := interp.ParseMethod(c.String("method"))
	if err != nil {
		return fmt.Errorf("--%w", err)
	}
	outside, err := interp.ParseOutside(c.String("outside"))
	if err != nil {
		return fmt.Errorf("--%w", err)
	}
	doc, t, err := namedTable(c)
	if err != nil {
		return err
	}
	if method == interp.Fit && len(many(c, "points")) > 0 {
		return errors.New("--points places breakpoints for --method sample: a fit then moves values off them")
	}
	x, y, notes, err := newAxes(c, t)
	if err != nil {
		return err
	}
	r, err := interp.Resample(t, x, y, method, outside)
	if err != nil {
		return tables.In(c.Args().First(), 0, 0, "", err)
	}
	r.Notes = append(notes, r.Notes...)
	if doc, err = withRescaled(doc, r); err != nil {
		return err
	}
	return deliverRescaled(c, doc, t, r, rescaling{method, outside})
}

// withRescaled is the document with the rescaled table. The exact state of cells
// does not fit other breakpoints.
func withRescaled(doc *tables.Calibration, r *interp.Resampled) (*tables.Calibration, error) {
	doc, err := doc.WithTable(r.Table)
	if err != nil || len(doc.Contents().State) == 0 {
		return doc, err
	}
	r.Notes = append(r.Notes, "the exact state of the cells does not fit other breakpoints and is left out: they can be shown, but no longer combined")
	contents := doc.Contents()
	contents.State = nil
	return tables.NewCalibration(contents)
}

// newAxes are the axes that the flags ask for; an axis that they do not name
// stays.
func newAxes(c *cli.Context, t *tables.Table) (x, y *tables.Axis, notes []string, err error) {
	if like := c.String("like"); like != "" {
		if c.IsSet("x") || c.IsSet("y") || len(many(c, "points")) > 0 {
			return nil, nil, nil, errors.New("--like gives the axes already: leave out --x, --y and --points, or --like")
		}
		_, other, err := tableAt(c, like, func(*tables.Calibration) (string, error) { return t.ID(), nil })
		if err != nil {
			return nil, nil, nil, err
		}
		return interp.Like(t, other)
	}
	if !c.IsSet("x") && !c.IsSet("y") && len(many(c, "points")) == 0 {
		return nil, nil, nil, errors.New("rescale needs --x, --y, --points or --like")
	}
	if x, err = axisFlag(c, "x", t, t.X()); err != nil {
		return nil, nil, nil, err
	}
	if y, err = axisFlag(c, "y", t, t.Y()); err != nil {
		return nil, nil, nil, err
	}
	return placed(c, t, x, y)
}

func axisFlag(c *cli.Context, name string, t *tables.Table, own *tables.Axis) (*tables.Axis, error) {
	if !c.IsSet(name) {
		return own, nil
	}
	if own == nil {
		return nil, fmt.Errorf("--%s: table %s has no %s axis", name, t.ID(), name)
	}
	var points []float64
	for word := range strings.SplitSeq(c.String(name), ",") {
		v, err := tables.ParseValue(strings.TrimSpace(word))
		if err != nil {
			return nil, fmt.Errorf("--%s: %w", name, err)
		}
		points = append(points, v)
	}
	a, err := tables.NewAxisExtra(own.Quantity(), own.Unit(), points, own.Extra())
	if err != nil {
		return nil, fmt.Errorf("--%s: %w", name, err)
	}
	return a, nil
}
