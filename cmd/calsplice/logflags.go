package main

import (
	"os"
	"runtime"
	"runtime/debug"
	"runtime/metrics"
	"slices"
	"strings"
	"sync"

	"calsplice/cmd/calsplice/manual"
	"calsplice/interp/cells/sift"
	"calsplice/tables"
	"calsplice/tables/drivelog"
	"calsplice/tables/tablefile"
)

// logFlags are all that can be said about a log and kept in a profile.
var logFlags = sync.OnceValue(func() []manual.Declared {
	return slices.DeleteFunc(manual.Of("logs").Flags(), func(d manual.Declared) bool {
		return d.Names[0] == "log-profile" || d.Names[0] == "channel-map"
	})
})

func logFlag(name string) manual.Declared {
	list := logFlags()
	return list[slices.IndexFunc(list, func(d manual.Declared) bool { return d.Names[0] == name })]
}

// logOptions reads the flags about drive logs, and the profile that they name.
func (in *input) logOptions() drivelog.Options {
	o := drivelog.Options{Context: in.ctx, Progress: in.progress()}
	w := in.logWords()
	o.Channels, o.Units = w.mapped("channel"), w.mapped("channel-unit")
	o.SpareUnits = in.text("log-profile") != ""
	o.Encoding, o.Delimiter, o.Decimal = in.text("encoding"), in.text("delimiter"), in.text("decimal")
	o.TimeFormat, o.UnitsRow, o.Form, o.Held = in.text("time-format"), in.text("units-row"), in.text("form"), in.text("held")
	for _, d := range w.pairs("let") {
		d := drivelog.Definition{Name: d.name, Expr: d.value}
		if err := d.Check(); err != nil {
			w.fail("--let %s: %s", tables.Quote(d.Name+"="+d.Expr), err)
		}
		o.Let = append(o.Let, d)
	}
	o.MaxAge, o.GaugeStoich, o.Gap = in.optional("max-age"), in.number("gauge-stoich"), in.number("gap")
	o.HeaderLine, o.MaxLine = int(in.number("header-line")), int(in.number("max-line"))
	if marks := in.text("missing"); marks != "" {
		o.Missing = strings.Split(marks, ",")
	}
	if file := in.text("channel-map"); file != "" {
		check(readMap(&o, file))
	}
	check(w.faults.Err())
	return o
}

func readMap(o *drivelog.Options, file string) error {
	f, err := os.Open(file)
	if err != nil {
		return tablefile.Plain(file, err)
	}
	defer f.Close()
	return o.ReadMap(f, file)
}

// log opens the log that the first argument names.
func (in *input) log(opt drivelog.Options) *drivelog.Log {
	return must(drivelog.Open(in.arg(0), in.stdin, opt))
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
func (in *input) takesChannels() bool {
	return in.command.Name == "trace" || in.command.Name == "events"
}

// chosenChannels are the values of --channel that name channels to look at;
// those with an "=" map a header and belong to [logOptions].
func (in *input) chosenChannels() []string {
	var names []string
	for _, s := range in.many("channel") {
		if !strings.Contains(s, "=") {
			names = append(names, commaWords(s)...)
		}
	}
	return slices.DeleteFunc(names, func(n string) bool { return n == "" })
}

// printReading reports on standard error what a log was read in spite of, and what
// was assumed.
func (in *input) printReading(name string, r *drivelog.Reading) {
	var lines []string
	for _, f := range r.Faults {
		lines = append(lines, name+": "+f.String())
	}
	for _, s := range r.Notes {
		lines = append(lines, name+": "+s)
	}
	in.caution(lines...)
}

func (in *input) filterOptions() (sift.FilterOptions, error) {
	o := sift.FilterOptions{Steady: in.yes("steady"), WarmAt: in.optional("warm-at"), SettleTrim: in.optional("settle")}
	for _, n := range in.list("filter") {
		o.Use = append(o.Use, sift.Filter(n))
	}
	for _, n := range in.list("no-filter") {
		o.Not = append(o.Not, sift.Filter(n))
	}
	return o, o.Validate()
}
