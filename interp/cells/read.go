package cells

import (
	"context"
	"errors"

	"calsplice/tables"
	"calsplice/tables/drivelog"
)

// Part takes part in the reading of logs, one after the other, beside others.
type Part interface {
	// Begin says what of a log is asked for; without a Frame the log is passed over.
	Begin(name string, log *drivelog.Log) (drivelog.Reader, error)
	// End follows each log in which Begin took part.
	End(reading *drivelog.Reading) error
}

// Read opens each log once and reads it once, for all parts together. A fault keeps
// its part from the rest of that log only, so that each log's is told; another error
// ends the part. Neither disturbs the other parts. The errors are by part.
func Read(ctx context.Context, logs []Log, parts ...Part) []error {
	list := make([]parting, len(parts))
	for i, p := range parts {
		list[i].Part = p
	}
	for _, l := range logs {
		if err := readOne(ctx, l, list); err != nil {
			for i := range list {
				list[i].fail(l.Name, err)
			}
		}
	}
	errs := make([]error, len(parts))
	for i := range list {
		if errs[i] = list[i].ended; errs[i] == nil {
			errs[i] = list[i].faults.Err()
		}
	}
	return errs
}

// parting is one part of a reading, with what went wrong in it.
type parting struct {
	Part
	faults tables.Faults
	ended  error
	here   bool // takes part in the log that is read
}

// fail keeps a part from the rest of a log.
func (p *parting) fail(name string, err error) {
	var f *tables.Fault
	var fs tables.Faults
	switch p.here = false; {
	case errors.As(err, &fs):
		p.faults = append(p.faults, fs...)
	case errors.As(err, &f):
		p.faults = append(p.faults, f)
	case p.ended == nil:
		p.ended = tables.In(name, 0, 0, "", err)
	}
}

// readOne reads one log; its error is every part's.
func readOne(ctx context.Context, l Log, list []parting) error {
	log, err := l.Open()
	if err != nil {
		return err
	}
	defer log.Close()
	var readers []drivelog.Reader
	for i := range list {
		p := &list[i]
		if p.here = p.ended == nil; !p.here {
			continue
		}
		r, err := p.Begin(l.Name, log)
		if err != nil {
			p.fail(l.Name, err)
		} else if p.here = r.Frame != nil; p.here {
			readers = append(readers, p.guard(l.Name, r))
		}
	}
	if readers == nil {
		return nil
	}
	reading, err := log.ScanFor(ctx, readers...)
	if err != nil {
		return err
	}
	for i := range list {
		if p := &list[i]; p.here {
			if err := p.End(reading); err != nil {
				p.fail(l.Name, err)
			}
		}
	}
	return nil
}

// guard lets others read on where a part fails.
func (p *parting) guard(name string, r drivelog.Reader) drivelog.Reader {
	take := r.Frame
	r.Frame = func(f *drivelog.Frame) error {
		if p.here {
			if err := take(f); err != nil {
				p.fail(name, err)
			}
		}
		return nil
	}
	return r
}
