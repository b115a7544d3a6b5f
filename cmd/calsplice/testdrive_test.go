package main

import (
	"flag"
	"fmt"
	"io"
	"os"
	"strings"

	"calsplice/merge/testdrive"
	"calsplice/tables"
	"calsplice/tables/tablefile"
)

// testdriveMain is the command testdrive of the scripts: it drives one of the
// invented engines with something wrong and leaves behind what a person would
// have: the calibration and the log.
//
//	testdrive [flags] CAL.json LOG.csv
func testdriveMain() {
	f := flag.NewFlagSet("testdrive", flag.ExitOnError)
	engine := f.String("engine", "four", "four, six or turbo")
	flow := f.Float64("flow", 1, "the flow table is this times the truth")
	offset := f.Float64("offset", 0, "the offset table is this many ms above the truth")
	minutes := f.Float64("minutes", 10, "")
	hz := f.Float64("hz", 10, "")
	seed := f.Uint64("seed", 1, "")
	without := f.String("without", "", "channels that are not logged, comma separated")
	steady := f.Bool("steady", false, "one cruising speed")
	var fault testdrive.Fault
	f.Float64Var(&fault.Leak, "leak", 0, "unmetered air, g/s")
	f.BoolVar(&fault.HoseOff, "hose-off", false, "the regulator has lost the manifold")
	f.Float64Var(&fault.Bank2, "bank2", 0, "share that bank 2 gets less")
	f.Float64Var(&fault.OldFuel, "old-fuel", 0, "degrees of knock margin lost")
	f.Float64Var(&fault.SingleKnock, "single-knock", 0, "degrees of one event")
	f.Float64Var(&fault.SparkMissing, "spark-missing", 0, "degrees that the controller takes off the table")
	opt := testdrive.DriveOptions{Purge: true, Drift: 0.003}
	f.BoolVar(&opt.Wideband, "wideband", false, "log lambda")
	f.BoolVar(&opt.RailSensor, "rail", false, "log the rail pressure")
	f.BoolVar(&opt.SteadyBattery, "steady-battery", false, "")
	f.Float64Var(&opt.TrimLimit, "trim-limit", 0, "")
	rail := f.Float64("true-rail", 0, "the rail pressure really set, kPa")
	f.Parse(os.Args[1:])
	truth := map[string]func() *tables.Calibration{"four": testdrive.Four, "six": testdrive.Six, "turbo": testdrive.Turbo}[*engine]()
	plant := testdrive.Plant{Truth: truth, Fault: fault}
	switch *engine {
	case "six":
		plant.Banks = 2
	case "turbo":
		plant.Boost = 70
	}
	if *rail > 0 {
		set := *truth.Engine().RailPressure
		set.Value = *rail
		plant.Fault.Rail = &set
	}
	opt.Minutes, opt.Hz, opt.Seed = *minutes, *hz, *seed
	if *steady {
		opt.Route = testdrive.Steady
	}
	if *without != "" {
		opt.Without = strings.Split(*without, ",")
	}
	cal := testdrive.Scaled(testdrive.Scaled(truth, "injector.flow", *flow, 0), "injector.offset", 1, *offset)
	log := testdrive.Drive(cal, plant, opt)
	err := tablefile.Write(f.Arg(0), cal, tablefile.Options{})
	if err == nil {
		err = tablefile.Replace(f.Arg(1), os.Stdout, func(w io.Writer) error { return log.WriteCSV(w) })
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}
