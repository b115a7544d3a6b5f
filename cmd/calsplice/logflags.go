package main

import (
	"os"
	"runtime"
	"runtime/debug"
	"runtime/metrics"
	"strings"
	"sync"

	"calsplice/tables/drivelog"
	"calsplice/tables/tablefile"

	"github.com/urfave/cli/v2"
)

const logCategory = "override how the drive log is read"

// logFlag is one way to say how a log is read: a flag, and a key of a profile.
type logFlag struct {
	name, usage string
	pairs       string // what stands behind the = of a flag that may be given again; "" for others
}

// key is the flag's name in a profile.
func (f logFlag) key() string { return strings.ReplaceAll(f.name, "-", "_") }

// logRegistry lists all that can be said about a log.
var logRegistry = []logFlag{
	{"channel", "`NAME=HEADER`: read this channel from the column with that header; may be repeated", "HEADER"},
	{"channel-unit", "`NAME=UNIT`: the log's unit for a channel; for a trim also factor, hundred or share", "UNIT"},
	{"let", "`NAME=EXPRESSION`: a channel computed from others and from earlier ones", "EXPRESSION"},
	{"max-age", "`SECONDS`: how long a reading is used (default: 2)", ""},
	{"gauge-stoich", "`RATIO`: air/fuel ratio that a gauge shows at lambda 1 (default: 14.7)", ""},
	{"encoding", "`NAME`: utf-8, utf-16le, utf-16be or latin-1", ""},
	{"delimiter", "`CHARACTER`: the character between fields, or tab", ""},
	{"decimal", "`MARK`: the decimal mark, . or ,", ""},
	{"time-format", "`FORMAT`: s, ms, us, ns, min, h, days (of a spreadsheet), hh:mm:ss, mm:ss or iso", ""},
	{"header-line", "`LINE`: the line of the header, counted from 1", ""},
	{"units-row", "`YES|NO`: whether the line under the header holds units", ""},
	{"form", "`FORM`: wide (one row per instant) or long (one row per reading)", ""},
	{"held", "`YES|NO`: whether an empty cell of a wide log repeats the value above it", ""},
	{"missing", "`MARK,…`: text that marks a missing value", ""},
	{"gap", "`SECONDS`: a gap longer than this starts a new segment (default: 5 × the usual row interval, at least 2)", ""},
	{"max-line", "`BYTES`: longest line that is read (default: 4194304)", ""},
}

// logFlags are the flags of every command that reads drive logs; what follows
// from them is [logOptions].
func logFlags() []cli.Flag {
	list := make([]cli.Flag, len(logRegistry), len(logRegistry)+2)
	for i, f := range logRegistry {
		if f.pairs != "" {
			list[i] = &cli.GenericFlag{Name: f.name, Usage: f.usage, Category: logCategory, Value: &manyValue{}}
		} else {
			list[i] = &cli.StringFlag{Name: f.name, Usage: f.usage, Category: logCategory}
		}
	}
	return append(list, profileFlag(),
		&cli.StringFlag{Name: "channel-map", Usage: "`FILE`: such pairs, one per line; # begins a remark", Category: logCategory})
}

// profileFlag is all that commands have which read logs and have many flags of
// their own.
func profileFlag() cli.Flag {
	return &cli.StringFlag{Name: "log-profile", Usage: "`PROFILE.json`: how the logger's files are read, as channels --save kept it", Category: logCategory}
}

// lookFlags are [logFlags] of a command whose --channel also names what to look
// at: usage says so.
func lookFlags(usage string) []cli.Flag {
	list := logFlags()
	list[0] = &cli.GenericFlag{Name: "channel", Value: &manyValue{}, Usage: usage + "; as NAME=HEADER, read channel NAME from the column with that header; may be repeated"}
	return list
}

// logOptions reads the flags of [logFlags], and the profile that they name.
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
// log, and of one that keeps what causes and corrections are told by.
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
