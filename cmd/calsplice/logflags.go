package main

import (
	"fmt"
	"math"
	"os"
	"runtime/debug"
	"strconv"
	"strings"

	"calsplice/tables"
	"calsplice/tables/drivelog"
	"calsplice/tables/tablefile"

	"github.com/urfave/cli/v2"
)

const logCategory = "override how the drive log is read"

// logFlags are the flags of every command that reads drive logs; what follows
// from them is [logOptions].
func logFlags() []cli.Flag {
	text := func(name, usage string) cli.Flag {
		return &cli.StringFlag{Name: name, Usage: usage, Category: logCategory}
	}
	repeated := func(name, usage string) cli.Flag {
		return &cli.GenericFlag{Name: name, Usage: usage, Category: logCategory, Value: &pairs{}}
	}
	return []cli.Flag{
		repeated("channel", "`NAME=HEADER`: read this channel from the column with that header; again for more"),
		text("channel-map", "`FILE`: such pairs, a line each; # begins a remark"),
		repeated("channel-unit", "`NAME=UNIT`: the log's unit for a channel; for a trim also factor, hundred or share"),
		repeated("let", "`NAME=EXPRESSION`: a channel computed from others and from earlier ones"),
		text("max-age", "`SECONDS`: how long a reading is used (default: 2)"),
		text("gauge-stoich", "`RATIO`: air/fuel ratio that a gauge shows at lambda 1 (default: 14.7)"),
		text("encoding", "`NAME`: utf-8, utf-16le, utf-16be or latin-1"),
		text("delimiter", "`CHARACTER`: what stands between fields, or tab"),
		text("decimal", "`MARK`: the decimal mark, . or ,"),
		text("time-format", "`FORMAT`: s, ms, us, ns, min, h, days (of a spreadsheet), hh:mm:ss, mm:ss or iso"),
		text("header-line", "`LINE`: where the header stands, from 1"),
		text("units-row", "`YES|NO`: whether units stand on the line under the header"),
		text("form", "`FORM`: wide (a row an instant) or long (a row a reading)"),
		text("held", "`YES|NO`: whether an empty cell of a wide log means as above"),
		text("missing", "`MARK,…`: what stands for a missing value"),
		text("gap", "`SECONDS`: how long without a row is a gap (default: five typical steps, 2 at least)"),
		text("max-line", "`BYTES`: longest line that is read (default: 4194304)"),
	}
}

// lookFlags are [logFlags] of a command whose --channel also names what to look
// at: usage says so.
func lookFlags(usage string) []cli.Flag {
	list := logFlags()
	list[0] = &cli.GenericFlag{Name: "channel", Value: &pairs{}, Usage: usage + "; as NAME=HEADER, read channel NAME from the column with that header; again for more"}
	return list
}

// pairs are the values of a flag that may be given again; each keeps its commas.
type pairs []string

func (p *pairs) Set(s string) error { *p = append(*p, s); return nil }
func (p *pairs) String() string     { return strings.Join(*p, " ") }

// logOptions reads the flags of [logFlags].
func logOptions(c *cli.Context) (drivelog.Options, error) {
	o := drivelog.Options{Context: c.Context, Progress: progress(c), Channels: map[string]string{}, Units: map[string]string{},
		Encoding: c.String("encoding"), Delimiter: c.String("delimiter"), Decimal: c.String("decimal"),
		TimeFormat: c.String("time-format"), UnitsRow: c.String("units-row"), Form: c.String("form"), Held: c.String("held")}
	var faults tables.Faults
	fail := func(format string, args ...any) {
		faults = append(faults, &tables.Fault{What: fmt.Sprintf(format, args...)})
	}
	split := func(flag, want string, into map[string]string) {
		for _, s := range pairsOf(c, flag) {
			name, v, ok := strings.Cut(s, "=")
			if !ok && flag == "channel" && takesChannels(c) {
				continue // a channel to look at, not where to find one
			}
			if name = strings.TrimSpace(name); !ok || name == "" {
				fail("--%s %s: want NAME=%s", flag, tables.Quote(s), want)
				continue
			}
			if _, again := into[name]; again {
				fail("--%s: %s is given twice", flag, name)
			}
			into[name] = strings.TrimSpace(v)
		}
	}
	split("channel", "HEADER", o.Channels)
	split("channel-unit", "UNIT", o.Units)
	for _, s := range pairsOf(c, "let") {
		name, e, ok := strings.Cut(s, "=")
		if name = strings.TrimSpace(name); !ok || strings.HasPrefix(e, "=") {
			fail("--let %s: want NAME=EXPRESSION", tables.Quote(s))
			continue
		}
		d := drivelog.Definition{Name: name, Expr: strings.TrimSpace(e)}
		if err := d.Check(); err != nil {
			fail("--let %s: %s", tables.Quote(name), err)
		}
		o.Let = append(o.Let, d)
	}
	number := func(flag string, least float64) float64 {
		if !c.IsSet(flag) {
			return 0
		}
		v, err := strconv.ParseFloat(c.String(flag), 64)
		if err != nil || math.IsInf(v, 0) || !(v >= least) {
			fail("--%s %s: want a number, %v or more", flag, tables.Quote(c.String(flag)), least)
		}
		return v
	}
	if v := number("max-age", 0); c.IsSet("max-age") {
		o.MaxAge = &v
	}
	o.GaugeStoich, o.Gap = number("gauge-stoich", 1), number("gap", 0)
	o.HeaderLine, o.MaxLine = int(number("header-line", 1)), int(number("max-line", 1024))
	if c.IsSet("missing") {
		o.Missing = strings.Split(c.String("missing"), ",")
	}
	if file := c.String("channel-map"); file != "" {
		f, err := os.Open(file)
		if err != nil {
			return o, tablefile.Plain(file, err)
		}
		defer f.Close()
		if err := o.ReadMap(f, file); err != nil {
			return o, err
		}
	}
	return o, faults.Err()
}

// frugal keeps the memory of a command that streams logs near what it needs: a
// heap of 40 MB is collected rather than let grow, unless GOMEMLIMIT says
// otherwise. Only what streams calls it; what holds a drive would be slowed.
func frugal() {
	if os.Getenv("GOMEMLIMIT") == "" {
		debug.SetMemoryLimit(40 << 20)
	}
}

func pairsOf(c *cli.Context, flag string) []string {
	if p, ok := c.Generic(flag).(*pairs); ok && p != nil {
		return *p
	}
	return nil
}

// takesChannels reports whether a command's --channel also names the channels
// to look at.
func takesChannels(c *cli.Context) bool {
	return c.Command.Name == "trace" || c.Command.Name == "events"
}

// chosenChannels are the values of --channel that name channels to look at;
// those with an "=" map a header and belong to [logOptions].
func chosenChannels(c *cli.Context) []string {
	var names []string
	for _, s := range pairsOf(c, "channel") {
		if strings.Contains(s, "=") {
			continue
		}
		for n := range strings.SplitSeq(s, ",") {
			if n = strings.TrimSpace(n); n != "" {
				names = append(names, n)
			}
		}
	}
	return names
}

const overlapsKey = "overlaps"

// watchOverlaps remembers rows of several logs that a command reads.
func watchOverlaps(c *cli.Context, opt *drivelog.Options, logs []string) {
	if len(logs) > 1 {
		opt.Overlaps = &drivelog.Overlaps{}
		c.App.Metadata[overlapsKey] = opt.Overlaps
	}
}

// tellOverlaps says which of the logs that a command read overlap.
func tellOverlaps(c *cli.Context) error {
	if o, ok := c.App.Metadata[overlapsKey].(*drivelog.Overlaps); ok {
		tellLines(c, o.Told())
	}
	return nil
}

// tellReading says on standard error what a log was read in spite of, and what
// was assumed.
func tellReading(c *cli.Context, name string, r *drivelog.Reading) {
	var lines []string
	for _, f := range r.Faults {
		lines = append(lines, tables.Clean(name)+": "+f.String())
	}
	for _, s := range r.Said {
		lines = append(lines, tables.Clean(name)+": "+s)
	}
	tellLines(c, lines)
}

// tellLines writes lines to standard error.
func tellLines(c *cli.Context, lines []string) {
	for _, line := range lines {
		fmt.Fprintln(c.App.ErrWriter, "calsplice:", line)
	}
}
