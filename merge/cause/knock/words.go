package knock

import (
	"fmt"
	"strings"

	"calsplice/tables"
)

// alike is what retard cannot tell from a cause in this drive.
func (g *signs) alike(c Cause) []string {
	if c == LowOctane && g.mixtureHidden() {
		return append([]string{"a mixture lean at load, which this log does not show"}, c.entry().alike...)
	}
	return c.entry().alike
}

// test is the physical test of a cause, with the region's place.
func (d *Drive) test(g *signs, c Cause) string {
	if c == LowOctane && g.mixtureHidden() {
		return "first " + pull + "; where the mixture is not lean, " + c.entry().test
	}
	if c == OverAdvanced && g.region.found() {
		return strings.Replace(c.entry().test, "that region", "the region from "+d.regionWhere(g.region.rect), 1)
	}
	return c.entry().test
}

// verdict is the answer in a sentence.
func (r *Result) verdict() string {
	lead, next := r.Leading(), r.Causes[1]
	switch {
	case lead.Cause == None && r.Certain:
		return "spark is not pulled for knock"
	case r.Certain:
		return fmt.Sprintf("%s: %s", lead.Cause, lead.Title)
	case r.repair:
		return fmt.Sprintf("%s fits best, but the log does not show whether the mixture is lean at load", lead.Cause)
	case r.twoFit():
		return fmt.Sprintf("this drive cannot tell why spark is pulled: %s fits best, then %s", lead.Cause, next.Cause)
	}
	return fmt.Sprintf("this drive shows too little knock to tell why spark is pulled: %s fits best", lead.Cause)
}

// twoFit reports whether another cause fits as well, though less.
func (r *Result) twoFit() bool { return r.Causes[1].Share > 0.05 }

// Next is the physical test to do next; none where there is too little knock to
// ask for one.
func (r *Result) Next() string {
	if lead := r.Leading(); lead.Cause != None && (r.Certain || r.repair || r.twoFit()) {
		return lead.Test
	}
	return ""
}

// evidence is what speaks for a cause.
func (d *Drive) evidence(g *signs, c Cause) []string {
	list := []string{}
	add := func(format string, args ...any) { list = append(list, fmt.Sprintf(format, args...)) }
	if m := g.fits[c]; m != nil {
		add("explains %.0f %% of the retard needed in %s of knock at %s", 100*max(0, 1-m.loss/g.pull), tables.Plural(g.stays, "visit"), tables.Plural(g.places, "place"))
	}
	switch c {
	case None, FalseKnock:
		if n := g.rises[lift] + g.rises[shift]; n > 0 {
			add("heard just after a throttle lift or gear change: %s; otherwise: %s", tables.Plural(n, "time"), tables.Plural(g.rises[steady]+g.rises[tip], "time"))
		}
		if g.stays > 0 {
			add("%.1f visits with retard each minute at light load, %.1f under load", g.lightRate, g.loadRate)
		}
		if b := &g.band; b.narrow() {
			add("keeps to %.0f to %.0f r/min, though the engine was loaded for %.0f s at other speeds", b.low, b.high, b.outside)
		}
		if g.early.seconds > 20 && g.late.seconds > 20 {
			add("heard %.1f times a minute with less than 1 deg off the table, %.1f times with 2 deg or more off", 60*g.early.rate(), 60*g.late.rate())
		}
	case LowOctane:
		if g.stays > 0 {
			add("needed retard %.1f deg on average, %.1f at most, with the charge %s K from normal", g.need, g.most, tables.Signed(g.heat, 0))
		}
	case HotCharge:
		if g.stays > 0 && d.hasIntake {
			add("charge %s K from normal where it knocks, %s K from the mean of the same operating points; %.0f K between the coolest and hottest tenth under load",
				tables.Signed(g.heat, 0), tables.Signed(g.follows, 0), g.spread)
		}
	case LeanAtLoad:
		if g.stays > 0 && (d.hasLambda || d.hasTrim) {
			how := "by what closed loop asks for at that air flow"
			if d.hasLambda {
				how = "by lambda"
			}
			add("%.0f %% leaner than commanded where it knocks, %s; more than %.0f %% leaner for %.0f %% of the knock under load", g.lean, how, leanFrom, 100*g.leanShare)
		}
	case OverAdvanced:
		if g.region.found() {
			add("about %.1f deg too far in %s", g.region.value[len(g.region.value)-1], d.regionWhere(g.region.rect))
		}
	}
	return list
}

// regionWhere names a rectangle by its corners.
func (d *Drive) regionWhere(rect rect) string {
	at := func(r, c int) string { return d.Table.Where(r*d.Table.Columns() + c) }
	first, last := at(rect[0], rect[2]), at(rect[1], rect[3])
	if first == last {
		return first
	}
	return strings.TrimSpace(first + " to " + last)
}
