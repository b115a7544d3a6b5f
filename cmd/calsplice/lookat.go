package main

import (
	"calsplice/cmd/calsplice/view"
	"calsplice/interp/cells"
	"calsplice/tables"
)

// lookAtDrive is cells with --axes alone: are the trims normal, is retard more
// than noise.
func (in *input) lookAtDrive() {
	s := in.drive(must(expand(in.args)))
	in.deliverCells(s.Drive.Steady, func() *view.View { return view.Drive(s) }, func() []string { return view.Drive(s).Lead })
}

// drive reads the logs of one drive onto the axes that --axes names.
func (in *input) drive(files []string) *view.Stage {
	spec, logs := in.question(files)
	limitMemory(streaming)
	return in.gathered(logs, spec)
}

// gathered is what logs say of a drive.
func (in *input) gathered(logs []cells.Log, spec cells.Spec) *view.Stage {
	d, notes, err := cells.GatherDrive(in.ctx, logs, spec)
	in.caution(notes...)
	check(err)
	return must(view.NewStage(d))
}

// diffLogs compares two drives by their logs, on the axes of --axes.
func (in *input) diffLogs() {
	out := in.text("o")
	refuse(in.asksTables() || in.yes("quiet") && out != "",
		"--axes compares two drive logs: --table, --stat, --name-only and tolerances are for calibrations and cells")
	if out != "" && extension(out) != ".html" {
		check(&tables.Fault{File: out, What: "two drive logs compare as text, --json or a page (.html); cells writes their averages, and diff a change set of those"})
	}
	var drives [2]*view.Stage
	for i, file := range in.args {
		if file == "-" || must(in.isDocument(file)) {
			check(&tables.Fault{File: file, What: "with --axes this must be a drive log, in a file"})
		}
		drives[i] = in.drive([]string{file})
	}
	old, new := drives[0].Drive, drives[1].Drive
	r := result{beside: in.yes("json")}
	r.drives(old, new, must(cells.CompareDrives(old, new)))
	in.deliver(r)
}

// noLogs refuses two files that are no documents, and says how drive logs compare.
func (in *input) noLogs() {
	for _, file := range in.args {
		if file == "-" || extension(file) != ".csv" {
			return
		}
		if is, err := in.isDocument(file); is || err != nil {
			return // readers say what is wrong
		}
	}
	refuse(true, "%s and %s are neither calibrations nor cells: where they are drive logs, --axes CAL compares them", in.arg(0), in.arg(1))
}
