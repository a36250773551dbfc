package webview

import (
	"encoding/json"
	"fmt"
)

// SchemaVersion is the v of every message and of the session file.
const SchemaVersion = 1

// The types of messages.
const (
	typeHello      = "hello"
	typeSession    = "session"
	typeInstrument = "instrument"
	typeStrike     = "strike"
	typeTrail      = "trail"
	typeGone       = "gone"
	typeLevel      = "level"
	typeRoom       = "room"
	typeState      = "state"
	typeMissed     = "missed"
	typePhones     = "phones"
	typeWanted     = "wanted"
	typeShelf      = "shelf"
	typeBench      = "bench"
)

type header struct {
	V    int    `json:"v"`
	Type string `json:"type"`
}

func head(typ string) header { return header{SchemaVersion, typ} }

// hello is all a page needs to start, in one piece.
type hello struct {
	header
	Version     string     `json:"version"`     // of the program: another one means load the page anew
	Instruments []string   `json:"instruments"` // names, in the order they are offered
	Sources     []string   `json:"sources"`     // choices POST /api/source takes
	Kinds       []string   `json:"kinds"`
	Session     Session    `json:"session"`
	Instrument  Instrument `json:"instrument"`
	State       State      `json:"state"`
	Strikes     []Strike   `json:"strikes"` // the latest, newest last
	Earlier     int        `json:"earlier"` // how many more there are before them
	Phones      []Phone    `json:"phones"`  // browsers that lend their microphones, by ID
	Wanted      Wanted     `json:"wanted"`
	Shelf       ShelfForm  `json:"shelf"`
}

type sessionMessage struct {
	header
	Session Session `json:"session"`
}

type instrumentMessage struct {
	header
	Instrument Instrument `json:"instrument"`
}

type strikeMessage struct {
	header
	Strike Strike `json:"strike"`
}

type trailMessage struct {
	header
	Strikes []Strike `json:"strikes"`
	Earlier int      `json:"earlier"`
}

type goneMessage struct {
	header
	ID string `json:"id"`
}

type levelMessage struct {
	header
	Level Level `json:"level"`
}

type roomMessage struct {
	header
	Room Room `json:"room"`
}

type stateMessage struct {
	header
	State State `json:"state"`
}

type phonesMessage struct {
	header
	Phones []Phone `json:"phones"`
}

type wantedMessage struct {
	header
	Wanted Wanted `json:"wanted"`
}

type shelfMessage struct {
	header
	Shelf ShelfForm `json:"shelf"`
}

type benchMessage struct {
	header
	Bench Bench `json:"bench"`
}

type missedMessage struct {
	header
	After *string `json:"after"` // what to ask GET /api/strikes?after= for; null: everything
	Count int     `json:"count"` // messages lost
}

// encode turns a message into the bytes every client gets. The forms hold
// nothing JSON cannot say, so an error is a bug of ours.
func encode(message any) []byte {
	b, err := json.Marshal(message)
	if err != nil {
		panic(fmt.Sprintf("webview: a message that JSON cannot say: %v", err))
	}
	return b
}
