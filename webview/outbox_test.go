package webview

import (
	"encoding/json"
	"fmt"
	"reflect"
	"testing"
)

// told is what a client reads: the data of posts, and of missed what it says.
func told(t *testing.T, o *outbox) []string {
	t.Helper()
	out := []string{}
	for data := o.take(); data != nil; data = o.take() {
		var m missedMessage
		if json.Unmarshal(data, &m) == nil && m.Type == typeMissed {
			after := "everything"
			if m.After != nil {
				after = *m.After
			}
			data = fmt.Appendf(nil, "missed %d after %s", m.Count, after)
		}
		out = append(out, string(data))
	}
	return out
}

func strikePost(id, before, data string) post {
	return post{key: strikeKey(id), before: before, data: []byte(data)}
}

func TestOutbox(t *testing.T) {
	full := func(o *outbox) {
		for n := range outboxLength {
			o.put(strikePost(fmt.Sprintf("%03d", n), fmt.Sprintf("%03d", n-1), fmt.Sprint(n)))
		}
	}
	waiting := func(from, to int) (out []string) {
		for n := from; n < to; n++ {
			out = append(out, fmt.Sprint(n))
		}
		return out
	}
	for name, c := range map[string]struct {
		put  func(*outbox)
		want []string
	}{
		"nothing": {func(*outbox) {}, []string{}},
		"in order": {func(o *outbox) {
			o.put(post{key: typeState, data: []byte("state")})
			o.put(strikePost("a", "", "a1"))
			o.put(post{key: typeSession, data: []byte("session")})
		}, []string{"state", "a1", "session"}},
		"levels coalesce": {func(o *outbox) {
			for n := range 100 {
				o.put(post{key: typeLevel, data: fmt.Append(nil, "level ", n)})
			}
		}, []string{"level 99"}},
		"a later telling replaces, and stands after what came between": {func(o *outbox) {
			o.put(strikePost("a", "", "a1"))
			o.put(post{key: typeTrail, data: []byte("trail")})
			o.put(strikePost("a", "", "a2"))
		}, []string{"trail", "a2"}},
		"gone replaces a telling": {func(o *outbox) {
			o.put(strikePost("a", "", "a1"))
			o.put(strikePost("a", "", "gone a"))
		}, []string{"gone a"}},
		"just full": {full, waiting(0, outboxLength)},
		"full, and a telling of one that waits": {func(o *outbox) {
			full(o)
			o.put(strikePost("000", "", "0 again"))
		}, append(waiting(1, outboxLength), "0 again")},
		"one too many: the oldest is lost, said in its place": {func(o *outbox) {
			full(o)
			o.put(strikePost("900", "023", "new"))
		}, append(append([]string{"missed 1 after -01"}, waiting(1, outboxLength)...), "new")},
		"lost out of order: after the earliest": {func(o *outbox) {
			o.put(strikePost("500", "499", "late"))
			full(o) // the last of these pushes out 500
			o.put(strikePost("901", "900", "new"))
			o.put(strikePost("902", "901", "newer"))
		}, append(append([]string{"missed 3 after -01"}, waiting(2, outboxLength)...), "new", "newer")},
		"the very first strike is lost: after nothing, so everything": {func(o *outbox) {
			o.put(strikePost("000", "", "first"))
			for n := 1; n <= outboxLength; n++ {
				o.put(strikePost(fmt.Sprintf("%03d", n), fmt.Sprintf("%03d", n-1), fmt.Sprint(n)))
			}
		}, append([]string{"missed 1 after everything"}, waiting(1, outboxLength+1)...)},
		"what people did is never lost": {func(o *outbox) {
			o.put(post{key: typeSession, data: []byte("session")})
			for n := range 10 * outboxLength {
				o.put(strikePost(fmt.Sprintf("%03d", n), fmt.Sprintf("%03d", n-1), fmt.Sprint(n)))
			}
		}, append([]string{"session", fmt.Sprintf("missed %d after -01", 9*outboxLength)}, waiting(9*outboxLength, 10*outboxLength)...)},
		"an old trail stands before the word of a loss, a new one after": {func(o *outbox) {
			o.put(post{key: typeTrail, data: []byte("trail")})
			o.put(strikePost("000", "", "0"))
			o.put(post{key: typeInstrument, data: []byte("instrument")})
			full(o)
			o.put(post{key: typeSession, data: []byte("session")})
			o.put(strikePost("901", "900", "new"))
		}, append(append([]string{"trail", "instrument", "missed 1 after -01"}, waiting(1, outboxLength)...), "session", "new")},
	} {
		o := newOutbox()
		c.put(o)
		if got := told(t, o); !reflect.DeepEqual(got, c.want) {
			t.Errorf("%s: got %v, wanted %v", name, got, c.want)
		}
		if got := told(t, o); len(got) > 0 {
			t.Errorf("%s: told again: %v", name, got)
		}
	}
}
