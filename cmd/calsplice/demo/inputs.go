// Package demo invents what the demo works on: a rescue van that gets the
// injectors of a harbour tender, its drives, and a colleague's edits. Nothing
// in it is a real vehicle, engine or workshop, and no number was measured.
//
// Its documents stand beside this file as a user would have them: the tender is a
// calibration, what a workshop or a colleague changed are change sets, and what is
// done with them is [Story], a line a step.
package demo

import (
	"embed"
	"io"

	"calsplice/merge"
	"calsplice/merge/changefile"
	"calsplice/merge/testdrive"
	"calsplice/tables"
	"calsplice/tables/tablefile"
	"calsplice/tables/tablejson"
)

// Story is the job, in lines that begin with what is done:
//
//	# SENTENCE                      a step begins
//	> SENTENCE                      what it showed
//	run STATUS COMMAND…             a command, printed with its output
//	quietly STATUS COMMAND…         a command that is not shown
//	page STATUS FILE TEXT COMMAND…  a command once more, as a page that the index leads to
//	link FILE TEXT                  another file that the index leads to
//	trims FILE                      a picture of cell averages, for the index
//	invent FILE NAME [CALIBRATION]  a document, by [Invent]
//	drive FILE NAME CALIBRATION     a log, by [Trips]
//
//go:embed story.txt
var Story string

//go:embed *.json
var files embed.FS

// Invent makes a document: the van as it came in ("van") or as it once left
// another workshop ("delivered"), with less advance in one corner; the donor
// ("tender"), with larger injectors in other units on other axes at another
// pressure; or a calibration with a colleague's edits ("colleague").
func Invent(name string, base *tables.Calibration) (*tables.Calibration, error) {
	c := testdrive.Four().Contents()
	c.Name, c.Notes = "Fell rescue van, as found", "Came in with a lean idle. Injectors to be replaced by a tender's."
	van, err := tables.NewCalibration(c)
	if err != nil || name == "van" {
		return van, err
	}
	if base == nil {
		base = van
	}
	data, err := files.ReadFile(name + ".json")
	if err != nil {
		return nil, err
	}
	if name == "tender" {
		return tablejson.Parse(data, name)
	}
	set, err := changefile.ParseJSON(data, name)
	if err != nil {
		return nil, err
	}
	return merge.Apply(base, set)
}

// A Trip is one drive: what is wrong with the van, and the road.
type Trip struct {
	Fault testdrive.Fault
	Seed  uint64
}

// Trips are the demo's drives. The injectors that were fitted flow less than
// their donor's tables say; a year later a manifold gasket leaks; after months
// of standing the fuel is stale, and then the tank is filled anew.
var Trips = map[string]Trip{
	"fitted":    {testdrive.Fault{FlowScale: 0.93}, 11},
	"again":     {testdrive.Fault{FlowScale: 0.93}, 12},
	"leaky":     {testdrive.Fault{FlowScale: 0.93, Leak: 0.35}, 13},
	"stale":     {testdrive.Fault{FlowScale: 0.93, OldFuel: 9}, 14},
	"refuelled": {testdrive.Fault{FlowScale: 0.93}, 15},
}

// Drive drives the van, whose injectors truly are those of fitted, under a
// calibration, and writes the log.
func (trip Trip) Drive(path string, fitted, cal *tables.Calibration) error {
	log := testdrive.Drive(cal, testdrive.Plant{Truth: fitted, Fault: trip.Fault},
		testdrive.DriveOptions{Seed: trip.Seed, Minutes: 20, Hz: 10})
	return tablefile.Replace(path, nil, func(w io.Writer) error { return log.WriteCSV(w) })
}
