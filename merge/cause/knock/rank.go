package knock

import (
	"cmp"
	"slices"
)

// noise is what a fit costs for each free number, which noise takes up, in square degrees.
const noise = 0.25

// compete fits each cause by its own shape.
func (d *Drive) compete(g *signs, obs []observation) {
	g.pull = fit(obs, nil).loss
	for _, e := range realCauses {
		var m *model
		if e.cause == OverAdvanced {
			g.region = d.best(obs, e.need)
			m = &g.region.model
		} else {
			m = fit(obs, e.need)
		}
		g.fits[e.cause], g.explained[e.cause] = m, 1-(m.loss+float64(noise*e.cost))/g.pull
	}
}

// ranked is a cause with how well it fits.
type ranked struct {
	cause Cause
	score float64
}

// rank orders the causes, best first, and says whether the first is certain.
func (g *signs) rank() (list []ranked, certain bool) {
	score, best := g.real()
	heard, transients := g.heardApart()
	switch light := g.lightRate / (g.loadRate + 1e-9); {
	case heard+transients == 0:
		score[None] = 1
	case heard <= max(2, 0.2*transients):
		score[FalseKnock] = transients / (transients + heard)
		less(score, heard/(heard+transients))
	case light > 0.4 && score[LowOctane] < 0.75 || g.band.ignoresLoad():
		light = min(1, max(light, g.band.light.rate()/(g.band.load.rate()+1e-9)))
		score[FalseKnock] = max(1-best, light)
		less(score, 1-0.5*light) // none of them knocks at light load
	case g.loud > 1 || light < 0.1 && heard > transients:
		// It depends on load, as only real knock does, however badly a fit does; or
		// took 5 deg there more than once.
		score[FalseKnock] = min(1-best, 0.8*best)
	default:
		score[FalseKnock] = 1 - best
	}
	if all := g.rises[steady] + g.rises[lift] + g.rises[shift] + g.rises[tip]; all+g.stays > 0 && g.stays <= 1 && all <= 2 { // now and then
		score[None], score[FalseKnock] = 0.6, min(0.4, score[FalseKnock])
	}
	for _, e := range catalogue {
		list = append(list, ranked{e.cause, score[e.cause]})
	}
	slices.SortStableFunc(list, func(a, b ranked) int { return cmp.Compare(b.score, a.score) })
	return list, g.certain(list)
}

// less takes a share of what the real causes explain.
func less(score map[Cause]float64, share float64) {
	for _, e := range realCauses {
		score[e.cause] *= share
	}
}

// real is how well each real cause explains the needs, and the best of it.
func (g *signs) real() (score map[Cause]float64, best float64) {
	score = map[Cause]float64{}
	for _, e := range realCauses {
		score[e.cause] = max(0, g.explained[e.cause])
		best = max(best, score[e.cause])
	}
	// A mixture measured lean, a charge so hot that nothing remains at a normal
	// temperature, or one that retard follows at the same operating points, needs no
	// guess.
	for _, x := range []struct {
		cause  Cause
		shown  bool
		behind float64 // the best fit at most
	}{
		{HotCharge, g.heat > 10 && g.remains() < 0.25, 0.3}, {HotCharge, g.heat > 10 && g.remains() < 0.35 && g.follows > 2, 0.5},
		{HotCharge, g.follows > 5, 0.3},
		{LeanAtLoad, g.lean > leanFrom, 0.3}, {LeanAtLoad, g.lean > 2*leanFrom, 0.5}, {LeanAtLoad, g.leanShare > 0.25 && g.measured, 1},
	} {
		if x.shown && score[x.cause] >= min(max(0.2, best-x.behind), 1-x.behind) {
			score[x.cause] = min(1, best+0.05)
			best = max(best, score[x.cause])
		}
	}
	return score, best
}

// heardApart counts the stays with knock and what was heard that is none.
func (g *signs) heardApart() (heard, transients float64) {
	heard, transients = float64(g.stays), float64(g.rises[lift]+g.rises[shift])
	switch {
	case g.needsLoad():
		return heard, 0
	case g.rattles():
		return float64(g.free), transients + heard - float64(g.free)
	}
	return heard, transients
}

// rattles reports whether what was heard is the drive line, while the throttle
// opens anew or a lower gear is taken: little is heard at other times, and no real
// cause explains that. Low octane cannot: it knocks wherever the engine is loaded.
func (g *signs) rattles() bool {
	for _, e := range realCauses {
		if e.cause != LowOctane && g.explained[e.cause] >= max(0.7, g.explained[LowOctane]) {
			return false
		}
	}
	return g.loud < 2 && g.seldomApart() && !(g.measured && g.leanShare > 0.25)
}

// needsLoad reports whether what is heard about throttle lifts comes under load
// only, as real knock does when a higher gear is taken.
func (g *signs) needsLoad() bool {
	return g.nearLight.seconds > 20 && g.nearLight.rate() < 0.1*g.nearLoad.rate()
}

// seldomApart reports whether little was heard apart from throttle lifts and lower
// gears.
func (g *signs) seldomApart() bool { return 4*g.free <= g.stays }

// certain reports whether the first cause is a promise.
func (g *signs) certain(list []ranked) bool {
	margin := list[0].score - list[1].score
	enough := g.stays >= 8 && g.places >= 5 && !g.seldomApart()
	usual := g.lean < 3 && g.leanShare < 0.1 && g.remains() > 0.5 // neither mixture nor temperature
	switch list[0].cause {
	case None:
		return g.rises == [4]int{}
	case FalseKnock:
		return margin > 0.3 && g.certainlyFalse()
	case HotCharge: // measured, and nothing remains without it
		follows := g.follows > 5 && g.remains() < 0.25
		return enough && (follows || g.remains() <= 0 && g.region.height < 2) && g.explained[HotCharge] > 0.6 && g.lean < 4
	case LeanAtLoad:
		return enough && (g.lean > 8 && g.explained[LeanAtLoad] > 0.6 || g.measured && g.leanShare > 0.5) && g.heat < 10
	case LowOctane:
		if list[1].cause == OverAdvanced && g.explained[LowOctane] > 0.7 && g.region.height < handMade {
			margin = list[0].score - list[2].score // a region that the table does not show bends to fit much
		}
		return enough && usual && margin > 0.15 && !g.band.narrow()
	}
	return enough && usual && margin > 0.15 && !(g.region.found() && g.region.height < handMade)
}

// certainlyFalse reports whether what was heard needs no load: it comes about
// throttle lifts, or as often at light load, where 2 degrees less spark did not make
// it rarer.
func (g *signs) certainlyFalse() bool {
	transients := g.rises[lift] + g.rises[shift]
	switch g.stays {
	case 0:
		return transients >= 4 && !g.needsLoad()
	case 1:
		return transients >= 8
	}
	return g.lightStays >= 5 && g.lightRate > 0.6*g.loadRate && g.late.seconds > 20 && g.late.rate() > g.early.rate()/2
}

// mixtureHidden reports whether the log mostly does not show how lean the engine
// ran where it knocked.
func (g *signs) mixtureHidden() bool { return g.stays > 0 && g.shown < 0.5 }

// remains is the share of the needed retard that remains at a normal
// temperature, at a degree for some 8 K.
func (g *signs) remains() float64 { return 1 - float64(0.12*g.heat)/g.need }
