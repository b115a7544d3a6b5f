package main

import (
	"crypto/sha256"
	"encoding/hex"
	"io"
	"os"
	"path/filepath"

	"calsplice/cmd/calsplice/view"
	"calsplice/interp/cells"
	"calsplice/interp/cells/axes"
	"calsplice/merge"
	"calsplice/tables"
	"calsplice/tables/tablefile"
)

func report(in *input) error {
	j := in.job()
	if in.err != nil {
		return in.err
	}
	v := viewed(func() *view.View { return view.Report(j) })
	return in.deliver(result{view: v, page: v, json: asJSON(j)})
}

// job reads the calibrations and the drives.
func (in *input) job() *view.Job {
	j := &view.Job{Customer: in.text("customer"), Date: in.text("date"), Notes: in.many("note")}
	in.sum(j, in.arg(0), "calibration as found")
	in.sum(j, in.arg(1), "calibration now")
	j.Found, j.Now = in.calibration(in.arg(0)), in.calibration(in.arg(1))
	if in.err != nil {
		return nil
	}
	j.Changes, j.Looks = merge.Compare(j.Found, j.Now, merge.Tolerance{}, merge.Selection{}), newFindings(j.Found, j.Now)
	j.Before, j.After = in.stage(j, "before", j.Found), in.stage(j, "after", j.Now)
	if j.Before != nil && j.After != nil {
		j.Compared = get(in, func() (*cells.Comparison, error) { return cells.CompareDrives(j.Before.Drive, j.After.Drive) })
	}
	if in.err == nil {
		j.Say()
	}
	return j
}

// stage reads the drives of a flag, driven with a calibration; nil where there are
// none.
func (in *input) stage(j *view.Job, flag string, cal *tables.Calibration) *view.Stage {
	files := in.files(in.many(flag))
	if len(files) == 0 {
		return nil
	}
	opt := in.logOptions()
	opt.Engine = cal.Engine()
	for _, f := range files {
		in.sum(j, f, "drive "+flag)
	}
	spec := cells.Spec{Let: opt.Let}
	// Both drives are looked at on the axes of the calibration as found, so that
	// they compare.
	in.within(in.arg(0), func() (err error) { spec.X, spec.Y, err = driveAxes(j.Found); return err })
	logs := in.logs(files, opt, true)
	s := in.gathered(logs, spec)
	if in.err != nil {
		return nil
	}
	why := in.apart()
	if e := why.explain(cal, files, opt); why.err != nil {
		in.check(in.ctx.Err())
		s.Why = why.err.Error() // the logs were read: there is too little in them
	} else {
		s.Explained = e
	}
	return s
}

// driveAxes are the axes on which drives are looked at: the spark table's, or
// those of another table that a log has channels for.
func driveAxes(cal *tables.Calibration) (x, y *axes.Axis, err error) {
	id, err := cells.SparkTable(cal)
	if err == nil {
		return axes.OfTable(cal, id)
	}
	for _, t := range cal.Tables() {
		if t.Y() == nil {
			continue
		}
		if x, y, axesErr := axes.OfTable(cal, t.ID()); axesErr == nil {
			return x, y, nil
		}
	}
	return nil, nil, err
}

// sum adds a file with its SHA-256 to those of the job.
func (in *input) sum(j *view.Job, path, what string) {
	in.refuse(path == "-", "report names its files and their sums: standard input has neither")
	if in.err != nil {
		return
	}
	h := sha256.New()
	f, err := os.Open(path)
	if err == nil {
		defer f.Close()
		_, err = io.Copy(h, f)
	}
	if err != nil {
		in.check(tablefile.Plain(path, err))
	}
	j.Files = append(j.Files, view.File{Name: filepath.Base(path), What: what, SHA256: hex.EncodeToString(h.Sum(nil))})
}
