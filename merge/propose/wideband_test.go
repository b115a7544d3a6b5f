package propose

import (
	"context"
	"math"
	"strings"
	"testing"

	"calsplice/interp/engine"
	"calsplice/interp/lookup"
	"calsplice/merge/testdrive"
)

// TestWidebandServesWhereTrimsDoNotReach: full load is open loop; with a
// wideband sensor its breakpoint has evidence of its own.
func TestWidebandServesWhereTrimsDoNotReach(t *testing.T) {
	truth := testdrive.Four()
	cal := testdrive.Scaled(truth, "injector.flow", 1.06, 0)
	plant := testdrive.Plant{Truth: truth}
	opt := testdrive.DriveOptions{Seed: 8, Minutes: 25, Wideband: true}
	p, err := fuelFrom(context.Background(), cal, logged(t, cal, plant, opt), "cells", Defaults())
	if err != nil {
		t.Fatal(err)
	}
	c := p.Report.Cells[1] // 300 kPa: the manifold at the barometer
	if c.Verdict != Proposed || !strings.Contains(c.Note, "mixture_error") || float64(c.Mean) < 4.5 || float64(c.Mean) > 7.5 {
		t.Errorf("full load: %s, mean %.2f, %q; want about 6 from mixture_error", c.Verdict, float64(c.Mean), c.Note)
	}
	opt.Wideband = false
	p, err = fuelFrom(context.Background(), cal, logged(t, cal, plant, opt), "cells", Defaults())
	if err != nil {
		t.Fatal(err)
	}
	if c := p.Report.Cells[1]; c.Verdict != Inferred {
		t.Errorf("without a wideband sensor full load is %s, want inferred", c.Verdict)
	}
}

// TestOpenLoopOnly: a loop that never closes has no trims to offer; a wideband
// sensor has.
func TestOpenLoopOnly(t *testing.T) {
	truth := testdrive.Four()
	cal := testdrive.Scaled(truth, "injector.flow", 1.06, 0)
	opt := testdrive.DriveOptions{Seed: 8, Minutes: 12, OpenLoop: true}
	logs := logged(t, cal, testdrive.Plant{Truth: truth}, opt)
	if _, err := fuelFrom(context.Background(), cal, logs, "cells", Defaults()); err == nil || !strings.Contains(err.Error(), "no settled closed-loop sample is left: of ") {
		t.Errorf("open loop only: %v", err)
	}
	opt.Wideband = true
	logs = logged(t, cal, testdrive.Plant{Truth: truth}, opt)
	if _, err := fuelFrom(context.Background(), cal, logs, "cells", Defaults()); err == nil || !strings.Contains(err.Error(), "causes were not examined") || !strings.Contains(err.Error(), "--despite-cause") {
		t.Errorf("open loop only, with a wideband sensor: %v", err)
	}
	despite := Defaults()
	despite.DespiteCause = true
	p, err := fuelFrom(context.Background(), cal, logs, "cells", despite)
	if err != nil {
		t.Fatal(err)
	}
	if len(p.Report.Edits) == 0 || p.Report.Evidence != "mixture_error" {
		t.Errorf("with a wideband sensor: %d edits from %s", len(p.Report.Edits), p.Report.Evidence)
	}
}

// TestCellsWarnOfAnOffset: a flow table cannot mend an offset, and the trims
// say so within each cell.
func TestCellsWarnOfAnOffset(t *testing.T) {
	opt := Defaults()
	opt.DespiteCause = true
	truth := testdrive.Six() // a scalar flow: every pulse is in its one cell
	cal := testdrive.Scaled(testdrive.Scaled(truth, "injector.flow", 1.06, 0), "injector.offset", 1, -0.12)
	p, err := fuelFrom(context.Background(), cal, logged(t, cal, testdrive.Plant{Truth: truth, Banks: 2}, testdrive.DriveOptions{Seed: 8, Minutes: 20}), "cells", opt)
	if err != nil {
		t.Fatal(err)
	}
	if text := strings.Join(p.Changes.Cautions, "\n"); !strings.Contains(text, "the trims follow 1/pulse") || !strings.Contains(text, "--by fit") {
		t.Errorf("cautions do not warn: %s", text)
	}
}

// TestLearnedTrimThatIsNotApplied: where the pulse shows that open loop runs
// without the learned trim, that trim is no part of the mixture's error.
func TestLearnedTrimThatIsNotApplied(t *testing.T) {
	cal := testdrive.Four()
	j, err := engine.NewInjector(cal)
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range []struct {
		name    string
		applied float64 // share of fuel in the pulse
		want    float64 // mixture error, share
	}{{"applied", 1.1, 0.21}, {"not applied", 1, 0.1}} {
		b := block{long: 10, trim: 0.21, commanded: 0.86, at: lookup.Point{Speed: 3000, Manifold: 96, Barometer: 98.5, Delta: 302, Battery: 14, AirFlow: 40, Charge: math.NaN()}}
		b.pulse = fuelOf(cal)(&b)*row.applied/j.Flow(&b.at) + j.Offset(&b.at)
		d := &settled{cal: cal, inj: j, blocks: []block{b}}
		d.unapplied()
		if got := d.blocks[0].trim; math.Abs(got-row.want) > 1e-9 {
			t.Errorf("%s: mixture error %.3f, want %.3f", row.name, got, row.want)
		}
	}
}
