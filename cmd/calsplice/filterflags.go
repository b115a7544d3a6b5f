package main

import (
	"strings"

	"github.com/urfave/cli/v2"

	"calsplice/interp/cells/sift"
)

const filterCategory = "which samples to use"

// filterFlags are the flags of every command that gathers samples; what
// follows from them is [filterOptions].
func filterFlags() []cli.Flag {
	var names []string
	for _, f := range sift.Filters {
		names = append(names, string(f))
	}
	return []cli.Flag{
		&cli.BoolFlag{Name: "steady", Usage: "all filters for which the log has channels", Category: filterCategory},
		&cli.StringSliceFlag{Name: "filter", Usage: "`NAME[,…]`: use only samples that pass these: " + strings.Join(names, ", "), Category: filterCategory},
		&cli.StringSliceFlag{Name: "no-filter", Usage: "`NAME[,…]`: leave these filters out of --steady", Category: filterCategory},
		numberFlag(&cli.Float64Flag{Name: "warm-at", Value: 70, Usage: "`DEGC`: coolant temperature from which an engine is warm", Category: filterCategory},
			"a temperature in degC", finite),
		numberFlag(&cli.Float64Flag{Name: "settle", Value: 3, Usage: "`SECONDS`: least time that a trim needs to settle", Category: filterCategory},
			"seconds", func(v float64) bool { return v >= 0 && finite(v) }),
		&cli.StringFlag{Name: "weight", Value: "nearest", Usage: "`HOW`: nearest, each sample to its nearest breakpoint; or spread, over the four around it", Category: filterCategory},
		&cli.StringFlag{Name: "delay", Usage: "`SECONDS`: from fuel to sensor, for lambda and mixture_error; or lag=S,cycles=N,exhaust=GRAMS, or auto (from the log's steps; --steady's own)", Category: filterCategory},
		numberFlag(&cli.Float64Flag{Name: "trim-limit", Usage: "`PERCENT`: the size at which the controller stops a trim", DefaultText: "the log's own extreme", Category: filterCategory},
			"the size in % at which the controller stops a trim", func(v float64) bool { return v > 0 }),
	}
}

func filterOptions(c *cli.Context) (sift.FilterOptions, error) {
	o := sift.FilterOptions{Steady: c.Bool("steady")}
	if c.IsSet("warm-at") {
		warm := c.Float64("warm-at")
		o.WarmAt = &warm
	}
	if c.IsSet("settle") {
		settle := c.Float64("settle")
		o.SettleTrim = &settle
	}
	for _, n := range c.StringSlice("filter") {
		o.Use = append(o.Use, sift.Filter(strings.TrimSpace(n)))
	}
	for _, n := range c.StringSlice("no-filter") {
		o.Not = append(o.Not, sift.Filter(strings.TrimSpace(n)))
	}
	return o, o.Validate()
}
