package drivelog

import (
	"bytes"
	"compress/gzip"
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/klauspost/compress/zstd"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
)

// drive is one invented drive: what each dialect below writes down.
type driveRow struct {
	ms                              int
	rpm, kpa, ect, stft, ltft, volt float64
}

func drive() []driveRow {
	rows := make([]driveRow, 400)
	for i := range rows {
		x := float64(i)
		rows[i] = driveRow{ms: 36000000 + i*50, rpm: 800 + 5*x, kpa: 30 + math.Floor(x/8), ect: 60 + math.Floor(x/10),
			stft: float64(i%17-8) * 0.78125, ltft: float64(i%5-2) * 0.78125, volt: 13.5 + float64(i%4)/8}
	}
	return rows
}

func stamp(ms int) string {
	return fmt.Sprintf("%02d:%02d:%02d.%03d", ms/3600000, ms/60000%60, ms/1000%60, ms%1000)
}

// num writes a number exactly with a decimal mark.
func num(v float64, mark string) string {
	return strings.Replace(strings.TrimRight(strings.TrimRight(fmt.Sprintf("%.6f", v), "0"), "."), ".", mark, 1)
}

func table(delim, mark, head string, when func(driveRow) string) string {
	var b strings.Builder
	b.WriteString(head)
	for _, r := range drive() {
		b.WriteString(when(r))
		for _, v := range []float64{r.rpm, r.kpa, r.ect, r.stft, r.ltft, r.volt} {
			b.WriteString(delim + num(v, mark))
		}
		b.WriteByte('\n')
	}
	return b.String()
}

func utf16(s string, little, mark bool) string {
	e, policy := unicode.BigEndian, unicode.IgnoreBOM
	if little {
		e = unicode.LittleEndian
	}
	if mark {
		policy = unicode.UseBOM
	}
	s, err := unicode.UTF16(e, policy).NewEncoder().String(s)
	if err != nil {
		panic(err)
	}
	return s
}

// dialects writes the drive in many ways.
func dialects() map[string]string {
	secs := func(r driveRow) string { return num(float64(r.ms)/1000, ".") }
	const plainHead = "Time (s),Engine speed (rpm),MAP (kPa),ECT (°C),STFT B1 (%),LTFT B1 (%),Battery (V)\n"
	ordinary := table(",", ".", plainHead, secs)
	d := map[string]string{
		"plain":       ordinary,
		"crlf":        strings.ReplaceAll(ordinary, "\n", "\r\n"),
		"cr":          strings.ReplaceAll(ordinary, "\n", "\r"),
		"utf-8 mark":  "\ufeff" + ordinary,
		"utf-16le":    utf16(ordinary, true, true),
		"utf-16be":    utf16(ordinary, false, true),
		"utf-16 bare": utf16(ordinary, true, false),
		"mojibake":    strings.Replace(ordinary, "°", "Â°", 1),
		"semicolon and comma": table(";", ",", "TIME;ENGINE_RPM;INTAKE_MANIFOLD_PRESSURE;ENGINE_COOLANT_TEMP;SHORT TERM FUEL TRIM BANK 1;"+
			"LONG TERM FUEL TRIM BANK 1;BATTERY VOLTAGE\n", func(r driveRow) string { return num(float64(r.ms)/1000, ",") }),
		"tab and clock": table("\t", ".", "Time\trpm [r/min]\tMAP\tCoolant temperature\tShort trim 1\tLong trim 1\tVbat\n",
			func(r driveRow) string { return stamp(r.ms) }),
		"iso": table(",", ".", "Timestamp,EngineSpeed,ManifoldPressure,CoolantTemp,ShortTermFuelTrim_B1,LongTermFuelTrim_B1,BatteryVoltage\n",
			func(r driveRow) string { return "2031-05-12T" + stamp(r.ms) + "+02:00" }),
		"milliseconds": table(",", ".", "Timestamp(ms),Engine RPM[RPM],Intake manifold absolute pressure[kPa],Coolant[DegC],"+
			"Short Term Fuel Trim Bank 1[%],Long Term Fuel Trim Bank 1[%],Control module voltage[V]\n",
			func(r driveRow) string { return fmt.Sprint(r.ms) }),
		"milliseconds untold": table(",", ".", "time,RPM,MAP,ECT,STFT1,LTFT1,Battery\n", func(r driveRow) string { return fmt.Sprint(r.ms) }),
		"preamble and units": "Logger of the fell rescue van\nDate;12 May\n\n" + table(",", ".",
			"Time,Engine speed,Manifold pressure,Coolant temp,STFT,LTFT,Battery\ns,rpm,kPa,°C,%,%,V\n", secs),
		"other units":  otherUnits(),
		"glued units":  gluedUnits(),
		"long":         longText(),
		"quoted":       quotedText(ordinary),
		"held":         heldText(),
		"factor trims": strings.ReplaceAll(factorTrims(), "\t", ","),
	}
	latin, err := charmap.Windows1252.NewEncoder().String(ordinary)
	if err != nil {
		panic(err)
	}
	d["latin-1"] = latin
	var z bytes.Buffer
	w := gzip.NewWriter(&z)
	w.Write([]byte(ordinary))
	w.Close()
	d["gzip"] = z.String()
	z.Reset()
	s, _ := zstd.NewWriter(&z)
	s.Write([]byte(ordinary))
	s.Close()
	d["zstd"] = z.String()
	return d
}

func otherUnits() string {
	var b strings.Builder
	b.WriteString("Time [min],RPM x1000,MAP [hPa],ECT [K],STFT,LTFT,Battery [mV]\n")
	for _, r := range drive() {
		fmt.Fprintf(&b, "%.9f,%g,%g,%.2f,%g,%g,%g\n", float64(r.ms)/60000, r.rpm/1000, r.kpa*10, r.ect+273.15, r.stft, r.ltft, r.volt*1000)
	}
	return b.String()
}

func gluedUnits() string {
	var b strings.Builder
	b.WriteString("TIME;RPM;MAP;ECT;STFT;LTFT;BATTERY\n")
	for _, r := range drive() {
		fmt.Fprintf(&b, "%ss;%sRPM;%skPa;%s°C;%s%%;%s%%;%sV\n", num(float64(r.ms)/1000, ","), num(r.rpm, ","), num(r.kpa, ","),
			num(r.ect, ","), num(r.stft, ","), num(r.ltft, ","), num(r.volt, ","))
	}
	return b.String()
}

func longText() string {
	var b strings.Builder
	b.WriteString("\"SECONDS\";\"PID\";\"VALUE\";\"UNITS\";\n")
	for _, r := range drive() {
		for _, c := range []struct {
			name, unit string
			v          float64
		}{{"Engine RPM", "rpm", r.rpm}, {"Intake manifold absolute pressure", "kPa", r.kpa}, {"Engine coolant temperature", "℃", r.ect},
			{"Short term fuel % trim - Bank 1", "%", r.stft}, {"Long term fuel % trim - Bank 1", "%", r.ltft}, {"Control module voltage", "V", r.volt}} {
			fmt.Fprintf(&b, "\"%g\";\"%s\";\"%g\";\"%s\";\n", float64(r.ms)/1000, c.name, c.v, c.unit)
		}
	}
	return b.String()
}

func quotedText(s string) string {
	s = strings.TrimSpace(s)
	return `"` + strings.NewReplacer(",", `","`, "\n", "\"\n\"").Replace(s) + "\"\n"
}

func heldText() string {
	var b strings.Builder
	b.WriteString("time,RPM,MAP,ECT,STFT,LTFT,Battery\n")
	var last [6]string
	for _, r := range drive() {
		b.WriteString(num(float64(r.ms)/1000, "."))
		for k, v := range []float64{r.rpm, r.kpa, r.ect, r.stft, r.ltft, r.volt} {
			s := num(v, ".")
			b.WriteByte(',')
			if s != last[k] {
				b.WriteString(s)
			}
			last[k] = s
		}
		b.WriteByte('\n')
	}
	return b.String()
}

func factorTrims() string {
	var b strings.Builder
	b.WriteString("time\tRPM\tMAP\tECT\tSTFT\tLTFT\tBattery\n")
	for _, r := range drive() {
		fmt.Fprintf(&b, "%g\t%g\t%g\t%g\t%g\t%g\t%g\n", float64(r.ms)/1000, r.rpm, r.kpa, r.ect, 1+r.stft/100, 1+r.ltft/100, r.volt)
	}
	return b.String()
}

// TestOneDriveManyDialects reads one drive in every dialect and wants the same
// samples each time.
func TestOneDriveManyDialects(t *testing.T) {
	texts := dialects()
	if len(texts) < 14 {
		t.Fatalf("only %d dialects", len(texts))
	}
	rows := drive()
	for name, text := range texts {
		path := filepath.Join(t.TempDir(), "drive.csv")
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		l, err := Open(path, nil, Options{})
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		defer l.Close()
		n := 0
		var t0 float64
		_, err = l.Scan(context.Background(), Query{Columns: []string{"engine_speed", "manifold_pressure", "coolant", "trim", "battery", "coolant >= 70"}},
			func(f *Frame) error {
				for i := range f.N {
					r := rows[n]
					if n == 0 {
						t0 = f.Time[0] - float64(r.ms)/1000
					}
					trim := ((1+r.stft/100)*(1+r.ltft/100) - 1) * 100
					warm := 0.0
					if r.ect >= 70 {
						warm = 1
					}
					for k, w := range []float64{r.rpm, r.kpa, r.ect, trim, r.volt, warm} {
						if got := f.Columns[k].Value[i]; math.Abs(got-w) > 1e-9*math.Max(1, math.Abs(w)) || !f.Columns[k].Fresh[i] {
							return fmt.Errorf("row %d column %d: got %v, want %v", n, k, got, w)
						}
					}
					if math.Abs(f.Time[i]-t0-float64(r.ms)/1000) > 1e-5 {
						return fmt.Errorf("row %d: time %v", n, f.Time[i])
					}
					n++
				}
				return nil
			})
		if err != nil || n != len(rows) {
			t.Errorf("%s: %d rows, %v", name, n, err)
		}
	}
}
