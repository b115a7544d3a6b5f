package main

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"calsplice/cmd/calsplice/manual"
	"calsplice/tables"
	"calsplice/tables/drivelog"
	"calsplice/tables/strictjson"
	"calsplice/tables/tablefile"
	"calsplice/tables/tablejson"
)

// profileFormat names a file that keeps what was said about a logger.
const profileFormat = "calsplice.log-profile/1"

// profileKey is a flag's name in a profile.
func profileKey(flag string) string { return strings.ReplaceAll(flag, "-", "_") }

// logWords is what is given about how logs are read: on the command line, and
// where that says nothing in a profile.
type logWords struct {
	profile string // its file
	text    map[string]string
	pairs   map[string][]pair
	kept    map[string]bool // flags whose text is the profile's
	faults  tables.Faults
}

// pair is a name and what stands behind its =.
type pair struct{ name, value string }

// logWords gathers the words of the flags and of the profile that they name.
func (in *input) logWords() (*logWords, error) {
	w := &logWords{profile: in.text("log-profile"), text: map[string]string{}, pairs: map[string][]pair{}, kept: map[string]bool{}}
	for _, f := range logFlags() {
		if name := f.Names[0]; f.Many {
			w.typed(in, name, f.Value)
		} else if in.text(name) != "" {
			w.text[name] = in.text(name)
		}
	}
	if w.profile == "" {
		return w, nil
	}
	data, err := tablefile.Any(w.profile, nil)
	if err != nil {
		return nil, err
	}
	return w, w.read(data)
}

// typed takes in the values of a flag that may be given again.
func (w *logWords) typed(in *input, flag, wanted string) {
	for _, s := range in.many(flag) {
		name, v, ok := strings.Cut(s, "=")
		if !ok && flag == "channel" && in.takesChannels() {
			continue // a channel to look at, not where to find one
		}
		switch name = strings.TrimSpace(name); {
		case !ok || name == "" && flag != "let" || strings.HasPrefix(v, "=") && flag == "let":
			w.fail("--%s %s: expected %s", flag, tables.Quote(s), wanted)
		case flag != "let" && w.has(flag, name):
			w.fail("--%s: %s is given twice", flag, name)
		default:
			w.pairs[flag] = append(w.pairs[flag], pair{name, strings.TrimSpace(v)})
		}
	}
}

func (w *logWords) has(flag, name string) bool {
	return slices.ContainsFunc(w.pairs[flag], func(p pair) bool { return p.name == name })
}

func (w *logWords) fail(format string, args ...any) {
	w.faults = append(w.faults, &tables.Fault{What: fmt.Sprintf(format, args...)})
}

// place is how a fault names a word: by its flag, or by the profile's key.
func (w *logWords) place(flag, value string) string {
	if w.kept[flag] {
		return fmt.Sprintf("%s: %s %s", w.profile, profileKey(flag), tables.Quote(value))
	}
	return fmt.Sprintf("--%s %s", flag, tables.Quote(value))
}

func (w *logWords) mapped(flag string) map[string]string {
	m := map[string]string{}
	for _, p := range w.pairs[flag] {
		m[p.name] = p.value
	}
	return m
}

func (w *logWords) number(flag string, least float64) (v float64, given bool) {
	text, given := w.text[flag]
	if !given {
		return 0, false
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsInf(v, 0) || !(v >= least) {
		w.fail("%s: expected a number, %v or more", w.place(flag, text), least)
	}
	return v, true
}

// read takes in a profile. What the command line says goes before it.
func (w *logWords) read(data []byte) error {
	r := strictjson.New(data, w.profile)
	keys := strictjson.Keys{Known: []string{"format"}, Need: []string{"format"}}
	for _, f := range logFlags() {
		keys.Known = append(keys.Known, profileKey(f.Names[0]))
	}
	before := map[string][]pair{}
	r.Object(keys, func(key string) {
		at := r.Mark()
		if key == "format" {
			if s, ok := r.Text(); ok && s != profileFormat {
				r.Fault(at, "", tables.UnknownFormat(s, profileFormat))
			}
			return
		}
		flag := strings.ReplaceAll(key, "_", "-")
		d := logFlags()[slices.IndexFunc(logFlags(), func(d manual.Declared) bool { return d.Names[0] == flag })]
		if !d.Many {
			w.keptText(r, d)
			return
		}
		r.Object(strictjson.Keys{}, func(name string) {
			if v, ok := r.Text(); ok && !w.has(flag, name) {
				before[flag] = append(before[flag], pair{name, v})
			}
		})
	})
	for flag, list := range before {
		w.pairs[flag] = append(list, w.pairs[flag]...)
		w.kept[flag] = true
	}
	return r.Err()
}

func (w *logWords) keptText(r *strictjson.Reader, d manual.Declared) {
	flag, at := d.Names[0], r.Mark()
	v, ok := r.Text()
	if list := d.Choices(); ok && list != nil && !slices.Contains(list, v) {
		r.Fault(at, "", fmt.Sprintf("found %s, expected %s", tables.Quote(v), tables.Listed(list, "or")))
	}
	if _, typed := w.text[flag]; ok && !typed {
		w.text[flag], w.kept[flag] = v, true
	}
}

// save writes the words as a profile, with the units that had to be assumed, and
// says which those are.
func (w *logWords) save(in *input, out string, sv *drivelog.Survey) error {
	assumed := assumedUnits(sv)
	for _, p := range assumed {
		if !w.has("channel-unit", p.name) {
			w.pairs["channel-unit"] = append(w.pairs["channel-unit"], p)
		}
	}
	o := tablejson.Object{B: []byte("{\n"), Indent: 2}
	o.Text("format", profileFormat)
	for _, f := range logFlags() {
		name := f.Names[0]
		if text, ok := w.text[name]; ok {
			o.Text(profileKey(name), text)
		}
		if list := w.pairs[name]; len(list) > 0 {
			named := tablejson.Object{B: []byte("{\n"), Indent: 4}
			for _, p := range list {
				named.Text(p.name, p.value)
			}
			o.Raw(profileKey(name), string(named.B)+"\n  }")
		}
	}
	err := tablefile.Replace(out, in.stdout, func(to io.Writer) error { _, err := to.Write(append(o.B, "\n}\n"...)); return err })
	if err == nil && len(assumed) > 0 {
		in.caution(fmt.Sprintf("%s keeps what was assumed: %s; correct it there", out, unitList(assumed)))
	}
	return err
}

// assumedUnits are the channels whose units the log does not give.
func assumedUnits(sv *drivelog.Survey) (list []pair) {
	for _, ch := range sv.Channels {
		if ch.Assumed {
			list = append(list, pair{ch.Name, ch.Unit})
		}
	}
	return list
}

func unitList(list []pair) string {
	words := make([]string, len(list))
	for i, p := range list {
		words[i] = p.name + " " + p.value
	}
	return strings.Join(words, ", ")
}
