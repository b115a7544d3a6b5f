package view

import (
	"fmt"
	"strings"

	"calsplice/merge/cause/knock"
	"calsplice/merge/caution"
	"calsplice/tables"
)

// Knock is why spark is pulled, where the trims are not explained: the log has
// none.
func Knock(name, trims string, k *knock.Result) *View {
	v := &View{Title: "Why spark is pulled: " + orOther(name, "a calibration without a name"), Kind: "Causes, from a drive log", Standing: true,
		Lead: []string{trims}, Cautions: []string{caution.Text()}}
	return v.WithKnock(k, "")
}

// WithKnock adds why spark is pulled, or, where k is nil, why that is not known.
func (v *View) WithKnock(k *knock.Result, silent string) *View {
	if k == nil {
		v.Lead = append(v.Lead, "Knock: not explained: "+silent)
		return v
	}
	v.Lead = append(v.Lead, "Knock: "+k.Verdict)
	if !k.Nothing() && v.Verdict != "" {
		v.Verdict += " Knock: " + strings.TrimSuffix(k.Verdict, ".") + "."
	}
	if k.Certain && k.Leading().Cause != knock.None { // in doubt, the verdict names the test
		v.Lead = append(v.Lead, "Next: "+k.Leading().Test)
	}
	v.Lead = append(v.Lead, k.Inspect...)
	rows := &Rows{Head: []string{"Cause of knock", "Share"}, Numbers: []int{1}}
	for _, f := range k.Causes {
		rows.Lines = append(rows.Lines, []string{string(f.Cause), fmt.Sprintf("%.0f %%", 100*f.Share)})
	}
	p := Part{Heading: "Why spark is pulled", Rows: rows, Facts: knockFacts(k),
		Note: "Share: of the needed retard that the cause explains, less what its fit costs; for false knock, what no real cause explains."}
	v.Parts = append(v.Parts, p, knockFinding(&k.Causes[0]))
	if k.Causes[1].Share > 0.3 && !k.Certain {
		v.Parts = append(v.Parts, knockFinding(&k.Causes[1]))
	}
	v.Cautions = append(append([]string{}, k.Notes...), v.Cautions...)
	return v
}

func knockFacts(k *knock.Result) []Fact {
	list := []Fact{{"Events over 1 deg", fmt.Sprintf("%d, of which %d after a throttle lift; peak %s deg", k.Events, k.Lifts, tables.Fixed(k.Peak, 1))}}
	if t := k.Torque; t != nil {
		list = append(list, Fact{"Torque given away under load where spark was pulled", fmt.Sprintf("about %s %% at the mean of %s deg, %s %% at the worst, %s deg (%s)",
			tables.Fixed(t.Lost, 1), tables.Fixed(t.Retard, 1), tables.Fixed(t.Most, 1), tables.Fixed(t.Worst, 1), t.Source)})
	}
	return list
}

func knockFinding(f *knock.Finding) Part {
	p := Part{Heading: fmt.Sprintf("%s: %s", f.Cause, f.Title)}
	for _, e := range f.Evidence {
		p.Items = append(p.Items, Item{Text: e})
	}
	if len(f.Alike) > 0 {
		p.Facts = append(p.Facts, Fact{"Retard alone cannot tell it from", strings.Join(f.Alike, "; ")})
	}
	if f.Cause != knock.None {
		p.Facts = append(p.Facts, Fact{"Test", f.Test})
	}
	return p
}
