package accuracy

import (
	"io"

	"ringwell/analysis"
)

// Heard is what was heard in one take: by an ear that was told nothing, by one
// that was told the kind of thing, and by the rival.
type Heard struct {
	category             string
	unknown, told, rival group
}

func (h *Heard) join(o *Heard) {
	h.unknown.join(&o.unknown)
	h.told.join(&o.told)
	h.rival.join(&o.rival)
}

// Hear has a take heard and judged. Takes may be heard at the same time.
func Hear(t Take) Heard {
	h := Heard{category: t.Truth.Category}
	courses := hear(t, analysis.Unknown)
	h.unknown.judge(t, courses)
	kind := analysis.Unknown
	for _, s := range t.Truth.Strikes {
		if s.Pitched && s.InHand != "" {
			kind = s.InHand // a player says it once; the first is taken
			break
		}
	}
	if kind != analysis.Unknown {
		courses = hear(t, kind)
	}
	h.told.judge(t, courses)
	for _, s := range t.Truth.Strikes {
		if !s.Pitched {
			continue
		}
		h.rival.strikes++
		wrong := max(gross, 2*s.Heard.Definition)
		if off := s.Heard.away(strongest(t, s.Onset)); !(off <= wrong && off >= -wrong) {
			h.rival.gross++
		}
	}
	return h
}

// Recordings writes the table of takes from elsewhere, a row a category, in the
// order in which the categories come. The error is w's first.
func Recordings(w io.Writer, all []Heard) error {
	b := &bench{w: w}
	var order []string
	rows := map[string]*Heard{}
	sum := &Heard{}
	for i := range all {
		h := &all[i]
		if rows[h.category] == nil {
			order = append(order, h.category)
			rows[h.category] = &Heard{}
		}
		rows[h.category].join(h)
		sum.join(h)
	}
	order = append(order, "all")
	rows["all"] = sum

	t, find := b.finds("Strikes found, and what is told where there is none")
	for _, name := range order {
		find(name, &rows[name].unknown)
	}
	t.end(nil)
	b.findNotes()

	t, pitch := b.pitches("The pitch heard")
	for _, name := range order {
		pitch(name, &rows[name].unknown, &rows[name].told, &rows[name].rival)
	}
	t.end(nil)
	b.pitchNotes(&sum.unknown)

	t, mode := b.modes("Partials")
	for _, name := range order {
		mode(name, &rows[name].unknown)
	}
	t.end(nil)

	t = b.table("Sound after the onset, ms, until told for good (median / 90 %)", "kind", "within ±5 c of its final", "±10 c of the truth", "±5 c", "±1 c")
	for _, name := range order {
		g := &rows[name].unknown
		t.row(name, halfAndMost(g.first), halfAndMost(g.within[0]), halfAndMost(g.within[1]), halfAndMost(g.within[2]))
	}
	t.end(nil)
	if len(sum.unknown.failed) > 0 {
		b.printf("\nWhat went wrong\n")
		for _, f := range sum.unknown.failed {
			b.printf("  %s\n", f)
		}
	}
	return b.err
}
