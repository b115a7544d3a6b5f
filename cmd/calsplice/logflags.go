package main

import (
	"os"
	"runtime"
	"runtime/debug"
	"runtime/metrics"
	"strings"
	"sync"

	"github.com/urfave/cli/v2"

	"calsplice/cmd/calsplice/manual"
	"calsplice/interp/cells/sift"
	"calsplice/tables/drivelog"
	"calsplice/tables/tablefile"
)

// logFlag is one way to say how a log is read: a flag, and a key of a profile.
type logFlag struct {
	name  string
	pairs string // what stands behind the = of a flag that may be given again; "" for others
}

// key is the flag's name in a profile.
func (f logFlag) key() string { return strings.ReplaceAll(f.name, "-", "_") }

// logRegistry lists all that can be said about a log and kept in a profile.
var logRegistry = sync.OnceValue(func() (list []logFlag) {
	for _, d := range manual.Of("logs").Flags() {
		_, pairs, _ := strings.Cut(d.Value, "=")
		if name := d.Names[0]; name != "log-profile" && name != "channel-map" {
			list = append(list, logFlag{name, pairs})
		}
	}
	return list
})

// logOptions reads the flags about drive logs, and the profile that they name.
func logOptions(c *cli.Context) (drivelog.Options, error) {
	o := drivelog.Options{Context: c.Context, Progress: progress(c)}
	w, err := logWordsOf(c)
	if err != nil {
		return o, err
	}
	o.Channels, o.Units = w.mapped("channel"), w.mapped("channel-unit")
	o.SpareUnits = c.String("log-profile") != ""
	o.Encoding, o.Delimiter, o.Decimal = w.text["encoding"], w.text["delimiter"], w.text["decimal"]
	o.TimeFormat, o.UnitsRow, o.Form, o.Held = w.text["time-format"], w.text["units-row"], w.text["form"], w.text["held"]
	for _, d := range w.pairs["let"] {
		d := drivelog.Definition{Name: d.name, Expr: d.value}
		if err := d.Check(); err != nil {
			w.fail("%s: %s", w.place("let", d.Name+"="+d.Expr), err)
		}
		o.Let = append(o.Let, d)
	}
	if v, ok := w.number("max-age", 0); ok {
		o.MaxAge = &v
	}
	o.GaugeStoich, _ = w.number("gauge-stoich", 1)
	o.Gap, _ = w.number("gap", 0)
	line, _ := w.number("header-line", 1)
	longest, _ := w.number("max-line", 1024)
	o.HeaderLine, o.MaxLine = int(line), int(longest)
	if marks, ok := w.text["missing"]; ok {
		o.Missing = strings.Split(marks, ",")
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
	return o, w.faults.Err()
}

func (in *input) logOptions() drivelog.Options {
	return get(in, func() (drivelog.Options, error) { return logOptions(in.Context) })
}

// log opens the log that the first argument names.
func (in *input) log(opt drivelog.Options) *drivelog.Log {
	return get(in, func() (*drivelog.Log, error) { return drivelog.Open(in.arg(0), in.App.Reader, opt) })
}

// Heaps of commands that read logs, MB: of one that gathers cells or looks through a
// log, and of one that keeps the readings that causes and corrections rest on.
const (
	streaming = 44
	judging   = 80
)

// limitMemory keeps the memory of a command that reads logs near what it needs: the heap
// is collected when it has so many MB or, where more than that is in use, a quarter
// more. GOMEMLIMIT and GOGC say otherwise.
func limitMemory(megabytes int64) {
	if os.Getenv("GOMEMLIMIT") == "" && os.Getenv("GOGC") == "" {
		limit.Do(func() {
			debug.SetGCPercent(-1)
			followHeap(megabytes << 20)
		})
	}
}

var limit sync.Once

// followHeap sets the limit of memory now and after each collection. With a limit that
// what is in use comes near, collections would follow each other without a pause.
func followHeap(least int64) {
	const aside = 10 << 20 // about what the program needs beside its heap
	inUse := []metrics.Sample{{Name: "/gc/heap/live:bytes"}}
	metrics.Read(inUse)
	debug.SetMemoryLimit(max(least, int64(inUse[0].Value.Uint64())*5/4+aside))
	runtime.AddCleanup(new([16]byte), followHeap, least)
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
	for _, s := range many(c, "channel") {
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

// warnOverlaps names those of the logs that a command read that overlap.
func warnOverlaps(c *cli.Context) error {
	if o, ok := c.App.Metadata[overlapsKey].(*drivelog.Overlaps); ok {
		printCautions(c, o.Told()...)
	}
	return nil
}

// printReading reports on standard error what a log was read in spite of, and what
// was assumed.
func printReading(c *cli.Context, name string, r *drivelog.Reading) {
	var lines []string
	for _, f := range r.Faults {
		lines = append(lines, name+": "+f.String())
	}
	for _, s := range r.Notes {
		lines = append(lines, name+": "+s)
	}
	printCautions(c, lines...)
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
	in := reading(c)
	for _, n := range in.list("filter") {
		o.Use = append(o.Use, sift.Filter(n))
	}
	for _, n := range in.list("no-filter") {
		o.Not = append(o.Not, sift.Filter(n))
	}
	return o, o.Validate()
}
