package main

import (
	"fmt"
	"io"
	"slices"
	"strings"

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

// logWords reads what is given about how logs are read: on the command line, and
// where that says nothing in a profile, whose words then stand as if they were typed.
type logWords struct {
	*input
	faults tables.Faults
}

// pair is a name and what stands behind its =.
type pair struct{ name, value string }

func pairOf(s string) pair {
	name, value, _ := strings.Cut(s, "=")
	return pair{strings.TrimSpace(name), strings.TrimSpace(value)}
}

// logWords reads the profile, if one is named.
func (in *input) logWords() *logWords {
	if profile := in.text("log-profile"); profile != "" {
		check(in.readProfile(strictjson.New(must(tablefile.Any(profile, nil)), profile)))
	}
	return &logWords{input: in}
}

// pairs are the values of a flag that may be given again.
func (w *logWords) pairs(flag string) (list []pair) {
	for _, s := range w.many(flag) {
		p, isPair := pairOf(s), strings.Contains(s, "=")
		switch {
		case !isPair && flag == "channel" && w.takesChannels():
			// a channel to look at, not where to find one
		case !isPair || p.name == "" && flag != "let" || strings.HasPrefix(p.value, "=") && flag == "let":
			w.fail("--%s %s: expected %s", flag, tables.Quote(s), logFlag(flag).Value)
		case flag != "let" && slices.ContainsFunc(list, func(o pair) bool { return o.name == p.name }):
			w.fail("--%s: %s is given twice", flag, p.name)
		default:
			list = append(list, p)
		}
	}
	return list
}

func (w *logWords) fail(format string, args ...any) {
	w.faults = append(w.faults, &tables.Fault{What: fmt.Sprintf(format, args...)})
}

func (w *logWords) mapped(flag string) map[string]string {
	m := map[string]string{}
	for _, p := range w.pairs(flag) {
		m[p.name] = p.value
	}
	return m
}

// readProfile takes in a profile. What the command line says goes before it.
func (in *input) readProfile(r *strictjson.Reader) error {
	keys := strictjson.Keys{Known: []string{"format"}, Need: []string{"format"}}
	for _, f := range logFlags() {
		keys.Known = append(keys.Known, profileKey(f.Names[0]))
	}
	r.Object(keys, func(key string) {
		at := r.Mark()
		if key == "format" {
			if s, ok := r.Text(); ok && s != profileFormat {
				r.Fault(at, "", tables.UnknownFormat(s, profileFormat))
			}
			return
		}
		d := logFlag(strings.ReplaceAll(key, "_", "-"))
		flag := d.Names[0]
		if d.Many {
			in.values[flag] = append(in.keptPairs(r, flag), in.many(flag)...)
			return
		}
		v, ok := r.Text()
		if what := wrong(d, v); ok && what != "" {
			r.Fault(at, "", "found "+what)
		}
		if !in.given(flag) {
			in.values[flag] = []string{v}
		}
	})
	return r.Err()
}

// keptPairs are those of a flag of which the command line says nothing.
func (in *input) keptPairs(r *strictjson.Reader, flag string) (list []string) {
	r.Object(strictjson.Keys{}, func(name string) {
		at := r.Mark()
		typed := func(s string) bool { return strings.Contains(s, "=") && pairOf(s).name == name }
		v, ok := r.Text()
		if err := (drivelog.Definition{Name: name, Expr: v}).Check(); ok && flag == "let" && err != nil {
			r.Fault(at, "", err.Error())
		}
		if ok && !slices.ContainsFunc(in.many(flag), typed) {
			list = append(list, name+"="+v)
		}
	})
	return list
}

// saveProfile writes the words as a profile, with the units that had to be assumed,
// and says which those are.
func (in *input) saveProfile(out string, assumed []pair) {
	o := tablejson.Object{B: []byte("{\n"), Indent: 2}
	o.Text("format", profileFormat)
	for _, f := range logFlags() {
		flag := f.Names[0]
		list := tables.Each(in.many(flag), pairOf)
		if flag == "channel-unit" {
			list = append(list, slices.DeleteFunc(slices.Clone(assumed), func(p pair) bool {
				return slices.ContainsFunc(list, func(o pair) bool { return o.name == p.name })
			})...)
		}
		switch {
		case !f.Many && in.text(flag) != "":
			o.Text(profileKey(flag), in.text(flag))
		case f.Many && len(list) > 0:
			named := tablejson.Object{B: []byte("{\n"), Indent: 4}
			for _, p := range list {
				named.Text(p.name, p.value)
			}
			o.Raw(profileKey(flag), string(named.B)+"\n  }")
		}
	}
	check(tablefile.Replace(out, in.stdout, func(to io.Writer) error { _, err := to.Write(append(o.B, "\n}\n"...)); return err }))
	if len(assumed) > 0 {
		in.caution(fmt.Sprintf("%s keeps what was assumed: %s; correct it there", out, unitList(assumed)))
	}
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
	return strings.Join(tables.Each(list, func(p pair) string { return p.name + " " + p.value }), ", ")
}
