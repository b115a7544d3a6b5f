package main

import (
	"fmt"
	"math"
	"strings"

	"github.com/urfave/cli/v2"

	"calsplice/interp/cells"
)

const filterCategory = "which samples are evidence"

// filterFlags are the flags of every command that gathers samples; what
// follows from them is [filterOptions].
func filterFlags() []cli.Flag {
	var names []string
	for _, f := range cells.Filters {
		names = append(names, string(f))
	}
	return []cli.Flag{
		&cli.BoolFlag{Name: "steady", Usage: "all filters for which the log has channels", Category: filterCategory},
		&cli.StringSliceFlag{Name: "filter", Usage: "only samples that pass `NAME[,…]`: " + strings.Join(names, ", "), Category: filterCategory},
		&cli.StringSliceFlag{Name: "no-filter", Usage: "--steady, but for `NAME[,…]`", Category: filterCategory},
		&cli.Float64Flag{Name: "warm-at", Value: 70, Usage: "coolant temperature of a warm engine, `degC`", Category: filterCategory},
		&cli.Float64Flag{Name: "settle", Value: 3, Usage: "least `SECONDS` for a trim to settle", Category: filterCategory},
		&cli.StringFlag{Name: "weight", Value: "nearest", Usage: "each sample to the nearest breakpoint, or `spread` over its four neighbours", Category: filterCategory},
		&cli.StringFlag{Name: "delay", Usage: "from fuel to sensor, for lambda and mixture_error: `SECONDS`, lag=S,cycles=N,exhaust=GRAMS, or auto (from the log's steps; --steady's own)", Category: filterCategory},
		&cli.Float64Flag{Name: "trim-limit", Usage: "`%` at which the controller stops a trim", DefaultText: "the log's own extreme", Category: filterCategory},
	}
}

func filterOptions(c *cli.Context) (cells.FilterOptions, error) {
	o := cells.FilterOptions{Steady: c.Bool("steady")}
	if warm := c.Float64("warm-at"); c.IsSet("warm-at") {
		if math.IsNaN(warm) || math.IsInf(warm, 0) {
			return o, fmt.Errorf("--warm-at is %v, want a temperature in degC", warm)
		}
		o.WarmAt = &warm
	}
	if settle := c.Float64("settle"); c.IsSet("settle") {
		if !(settle >= 0) || math.IsInf(settle, 0) {
			return o, fmt.Errorf("--settle is %v, want seconds", settle)
		}
		o.SettleTrim = &settle
	}
	for _, n := range c.StringSlice("filter") {
		o.Use = append(o.Use, cells.Filter(strings.TrimSpace(n)))
	}
	for _, n := range c.StringSlice("no-filter") {
		o.Not = append(o.Not, cells.Filter(strings.TrimSpace(n)))
	}
	return o, o.Validate()
}
