package propose

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"testing"

	"calsplice/interp/cells"
	"calsplice/merge/cause"
	"calsplice/merge/cause/knock"
	"calsplice/merge/testdrive"
	"calsplice/tables"
	"calsplice/tables/drivelog"
)

// counted counts what is read of a log.
type counted struct {
	io.Reader
	read *int
}

func (c counted) Read(p []byte) (int, error) {
	n, err := c.Reader.Read(p)
	*c.read += n
	return n, err
}

// TestLogsAreReadOnce: whatever is asked of a drive, its log is opened once, and each
// byte of it read once.
func TestLogsAreReadOnce(t *testing.T) {
	truth := testdrive.Turbo()
	cal := testdrive.Scaled(truth, "injector.flow", 1.06, 0)
	l := testdrive.Drive(cal, testdrive.Plant{Truth: truth, Boost: 60}, testdrive.DriveOptions{Seed: 4, Minutes: 12, Wideband: true})
	var b bytes.Buffer
	if err := l.WriteCSV(&b); err != nil {
		t.Fatal(err)
	}
	ctx, despite := context.Background(), Defaults()
	despite.DespiteCause = true
	for _, row := range []struct {
		name string
		ask  func(logs []cells.Log) error
	}{
		{"propose fuel", func(logs []cells.Log) error { _, err := fuelFrom(ctx, cal, logs, "", despite); return err }},
		{"propose fuel --by fit", func(logs []cells.Log) error { _, err := fuelFrom(ctx, cal, logs, "fit", despite); return err }},
		{"propose spark", func(logs []cells.Log) error { _, err := sparkFromDrive(ctx, cal, logs, SparkDefaults()); return err }},
		{"explain", func(logs []cells.Log) error {
			x, err := cause.NewExplainer(cal, cause.Options{})
			if err != nil {
				return err
			}
			listener := knock.NewListener(cal)
			for _, err := range cells.Read(ctx, logs, x, listener) {
				if err != nil {
					return err
				}
			}
			if r, why := listener.Result(); r == nil {
				return fmt.Errorf("no knock: %s", why)
			}
			_, err = x.Result()
			return err
		}},
	} {
		opened, read := 0, 0
		logs := []cells.Log{{Name: "drive.csv", Open: func() (*drivelog.Log, error) {
			opened++
			return drivelog.Open("-", counted{bytes.NewReader(b.Bytes()), &read}, drivelog.Options{Engine: cal.Engine(), Workers: 1})
		}}}
		if err := row.ask(logs); err != nil {
			t.Errorf("%s: %v", row.name, err)
		}
		if opened != 1 || read != b.Len() {
			t.Errorf("%s opened the log %s and read %d of its %d bytes", row.name, tables.Plural(opened, "time"), read, b.Len())
		}
	}
}
