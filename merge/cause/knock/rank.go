package knock

import (
	"cmp"
	"math"
	"slices"
)

// signs is what a drive shows, in numbers that decisions rest on.
type signs struct {
	rises      [4]int  // of retard above the noise floor, by what happened just before
	stays      int     // in which knock was heard, not after a transient
	free       int     // of them with knock later than a second after a lift, or held
	loud       int     // events of 5 degrees or more at high load
	lightStays int     // of them at light load
	places     int     // different bins of them
	loadRate   float64 // stays with knock for each minute of listening under load
	lightRate  float64 // and at light load
	loaded     float64 // seconds of listening under load
	need       float64 // mean need where knock was heard
	most       float64 // highest need
	pull       float64 // total squared need: what there is to explain
	explained  map[Cause]float64
	fits       map[Cause]*model
	region     *regional
	heat       float64 // mean K over normal where knock was heard
	hotter     float64 // of that, K over the mean under load
	lean       float64 // mean % lean there
	measured   bool    // by lambda
	shown      float64 // share of the knock heard where the log shows the mixture
	spread     float64 // of heat under load: the highest tenth less the lowest
}

const lightLoad = 0.4 // share of the drive's highest load up to which an engine hardly knocks

func (d *Drive) signs() *signs {
	g := &signs{explained: map[Cause]float64{}, fits: map[Cause]*model{}, loud: len(d.Events)}
	var loadStays, lightSeconds float64
	places := map[int]bool{}
	for i := range d.Stays {
		s := &d.Stays[i]
		for k, n := range s.Heard {
			g.rises[k] += n
		}
		heard := s.Knocked()
		if heard {
			g.stays++
			if s.Apart() {
				g.free++
			}
			places[s.Bin] = true
		}
		switch {
		case s.Share < lightLoad:
			lightSeconds += s.Seconds - s.cut
			if heard {
				g.lightStays++
			}
		case s.Share >= loaded:
			g.loaded += s.Seconds
			if heard {
				loadStays++
			}
		}
	}
	g.places = len(places)
	g.loadRate, g.lightRate = 60*loadStays/(g.loaded+5), 60*float64(g.lightStays)/(lightSeconds+5)
	obs := d.observations()
	var n float64
	var heats []float64
	for i := range obs {
		o := &obs[i]
		heats = append(heats, o.heat)
		if o.heard {
			n += o.weight
			g.need += o.weight * o.need
			g.most = max(g.most, o.need)
			g.heat += o.weight * o.heat
			g.lean += o.weight * o.lean
			if d.Stays[o.time].mixtureShown() {
				g.shown += o.weight
			}
		}
	}
	if n == 0 {
		return g
	}
	g.need, g.heat, g.lean, g.shown, g.measured = g.need/n, g.heat/n, g.lean/n, g.shown/n, d.hasLambda
	for _, h := range heats {
		g.hotter += h / float64(len(heats))
	}
	g.hotter = g.heat - g.hotter
	slices.Sort(heats)
	g.spread = heats[len(heats)*9/10] - heats[len(heats)/10]
	d.compete(g, obs)
	return g
}

// compete fits each cause by its own shape.
func (d *Drive) compete(g *signs, obs []observation) {
	inf := math.Inf(1)
	none := &model{}
	none.fit(obs)
	g.pull = none.loss
	// At normal temperature and the commanded mixture a sound table needs
	// nothing anywhere; on low octane it needs something at full load.
	sound := terms{{one, -inf, -1, -2, 0}, {load, 0, 25, 3, .01}, {speed, -1, 1, 0, .1}, {rich, -.4, 0, -.1, 20}}
	g.fits[LowOctane] = fit(obs, terms{{one, 1.5, inf, 3, 0}, {load, -2, 15, 5, .01}, {speed, -3, 2, 0, .1}, {bend, -3, 0, -1, .1},
		{rich, -.4, 0, -.1, 20}, {heat, .05, .2, .12, 100}})
	g.fits[HotCharge] = fit(obs, append(sound[:4:4], term{heat, .06, .17, .12, 100}))
	g.fits[LeanAtLoad] = fit(obs, append(sound[:3:3], term{heat, .1, .14, .12, 100}, term{lean, .1, .7, .35, 20}))
	g.region = d.best(obs, append(sound[:4:4], term{heat, .1, .14, .12, 100}))
	g.fits[OverAdvanced] = &g.region.model
	for c, m := range g.fits {
		g.explained[c] = 1 - (m.loss+float64(noise*cost[c]))/g.pull
	}
}

// What a fit costs: the noise that each free number takes up. A region has
// its place as well as its height.
const noise = 0.25 // square degrees

var cost = map[Cause]float64{LowOctane: 5, HotCharge: 3, LeanAtLoad: 4, OverAdvanced: 6}

// ranked is a cause with how well it fits.
type ranked struct {
	cause Cause
	score float64
}

// Columns of the fits.
func one(*observation) float64     { return 1 }
func load(o *observation) float64  { return o.load - 1 }
func speed(o *observation) float64 { return o.speed }
func bend(o *observation) float64  { return o.speed * o.speed }
func rich(o *observation) float64  { return o.rich }
func heat(o *observation) float64  { return o.heat }

// lean is worth no more past 10 %: knock is worst a little rich of lambda 1.
func lean(o *observation) float64 { return min(10, max(0, o.lean-3)) }

// rank orders the causes, best first, and says whether the first is certain.
func (g *signs) rank() (list []ranked, certain bool) {
	heard, transients := float64(g.stays), float64(g.rises[lift]+g.rises[shift])
	score := map[Cause]float64{}
	if heard+transients == 0 {
		score[None] = 1
	}
	best := 0.0
	for _, c := range realCauses {
		score[c] = max(0, g.explained[c])
		best = max(best, score[c])
	}
	if g.rattles() {
		heard, transients = float64(g.free), transients+heard-float64(g.free)
	}
	// A mixture measured lean, or a charge so hot that nothing remains at a
	// normal temperature, needs no guess.
	for _, x := range []struct {
		cause  Cause
		shown  bool
		behind float64 // the best fit at most
	}{
		{HotCharge, g.heat > 10 && g.remains() < 0.25, 0.3}, {HotCharge, g.heat > 10 && g.remains() < 0.35 && g.hotter > 5, 0.5},
		{LeanAtLoad, g.lean > 6, 0.3}, {LeanAtLoad, g.lean > 8 && g.measured, 1},
	} {
		if x.shown && score[x.cause] >= min(max(0.2, best-x.behind), 1-x.behind) {
			score[x.cause] = min(1, best+0.05)
			best = max(best, score[x.cause])
		}
	}
	switch light := g.lightRate / (g.loadRate + 1e-9); {
	case heard+transients == 0:
	case heard <= max(2, 0.2*transients):
		score[FalseKnock] = transients / (transients + heard)
	case light > 0.4 && score[LowOctane] < 0.75:
		score[FalseKnock] = max(1-best, min(1, light))
		for _, c := range realCauses { // none of them knocks at light load
			score[c] *= 1 - 0.5*min(1, light)
		}
	case g.loud > 1 || light < 0.1 && heard > transients:
		// It depends on load, as only real knock does, however badly a fit does; or
		// took 5 deg there more than once.
		score[FalseKnock] = min(1-best, 0.8*best)
	default:
		score[FalseKnock] = 1 - best
	}
	if heard <= max(2, 0.2*transients) && transients > 0 {
		for _, c := range realCauses {
			score[c] *= heard / (heard + transients)
		}
	}
	if few := float64(g.rises[steady] + g.rises[tip]); heard+transients > 0 && heard <= 1 && few+transients <= 2 {
		score[None] = 0.6
	}
	for _, c := range Causes {
		list = append(list, ranked{c, score[c]})
	}
	slices.SortStableFunc(list, func(a, b ranked) int { return cmp.Compare(b.score, a.score) })
	return list, g.certain(list)
}

// rattles reports whether what was heard is the drive line, while the throttle
// opens anew or a lower gear is taken: little is heard at other times, and no real
// cause explains that. Low octane cannot: it knocks wherever the engine is loaded.
func (g *signs) rattles() bool {
	for _, c := range realCauses {
		if c != LowOctane && g.explained[c] >= max(0.7, g.explained[LowOctane]) {
			return false
		}
	}
	return g.loud < 2 && g.seldomApart()
}

// seldomApart reports whether little was heard apart from throttle lifts and lower
// gears.
func (g *signs) seldomApart() bool { return 4*g.free <= g.stays }

// certain reports whether the first cause is a promise.
func (g *signs) certain(list []ranked) bool {
	margin := list[0].score - list[1].score
	switch list[0].cause {
	case None:
		return g.rises == [4]int{}
	case FalseKnock:
		transients := g.rises[lift] + g.rises[shift]
		return margin > 0.3 && (g.stays == 0 && transients >= 4 || g.stays == 1 && transients >= 8 || g.lightStays >= 5 && g.lightRate > 0.6*g.loadRate)
	}
	enough := g.stays >= 8 && g.places >= 5 && !g.seldomApart()
	switch list[0].cause {
	case HotCharge: // measured, and nothing remains without it
		return enough && g.remains() <= 0 && g.explained[HotCharge] > 0.6 && g.lean < 4 && g.region.height < 2
	case LeanAtLoad:
		return enough && g.lean > 8 && g.explained[LeanAtLoad] > 0.6 && g.heat < 10
	}
	return enough && margin > 0.15 && g.lean < 3 && g.remains() > 0.5
}

// mixtureHidden reports whether the log mostly does not show how lean the engine
// ran where it knocked.
func (g *signs) mixtureHidden() bool { return g.stays > 0 && g.shown < 0.5 }

// remains is the share of the needed retard that remains at a normal
// temperature, at a degree for some 8 K.
func (g *signs) remains() float64 { return 1 - float64(0.12*g.heat)/g.need }
