// Package webview serves ringwell's page and tells it, over a websocket, what
// the ear hears.
//
// The socket only speaks. Whatever a person does on the page is an ordinary
// HTTP request, so that a script, a foot switch or a second page can do it too.
//
// # Messages
//
// GET /socket upgrades to a websocket on which the server sends text frames,
// one JSON object each:
//
//	{"v":1,"type":"strike", ...}
//
// v is SchemaVersion. A field may be added without raising it; it is raised
// when a field changes its meaning or goes. A reader ignores types and fields
// it does not know. Lists are [] and never null, an unknown value is null, and
// no number is ever NaN or infinite. Every message is the whole of what it is
// about and replaces the one before, so that one may be left out.
//
//	type        field        when, and what it replaces
//	hello       (several)    first on every connection: everything a page needs to start
//	session     session      what all pages share has changed (Session)
//	instrument  instrument   another instrument or reference: its notes (Instrument)
//	strike      strike       a strike is told anew, named, or its sound was kept (Strike)
//	trail       strikes      the latest strikes, newest last, after where they land or a pin has changed
//	gone        id           a strike was thrown away or has grown too old
//	level       level        about ten times a second (Level)
//	room        room         the background, about once a second while nothing rings (Room)
//	state       state        what the ear is doing, in words (State)
//	wanted      wanted       the list of what is hunted for has changed (Wanted)
//	shelf       shelf        anything on the shelf, its stand, call-over or walk has changed (ShelfForm)
//	missed      after        this client was too slow and lost messages: GET /api/strikes?after=AFTER
//
// A strike whose stage is "withdrawn" was none and is to be forgotten. The
// answer to ?after=ID is the whole truth about the strikes after ID up to and
// with its field until, the newest there has been: one of those that a page
// still holds and the answer lacks is gone. While it waits for that answer a
// page holds back what comes on the socket, and takes it after the answer: so
// it ends up right whichever of them is older. A telling replaces one with the
// same id and the same or a lower revision.
//
// Only tellings of strikes can be lost; of every other type the latest always
// comes. The server closes a connection with 1001 when it stops, and with 1003
// when the client sends a message.
//
// The form of a strike is the same on the socket, in GET /api/strikes and in
// the output of "ringwell measure --json": see Strike.
//
// # The hunt
//
// While there is a wanted list every strike carries a verdict: how it stands
// against all places of the list at once, from its first telling on. When the
// list or what places mean changes, the strikes follow anew in a trail message.
// The kind that counts is what was said to be in the hand when it was struck.
//
// What is found stays on the trail with its sound, however old it grows, and is
// kept beside the list in files of its own, so that it outlives the program;
// taken back, it goes the way of other strikes once the change that took it
// back can itself no longer be undone.
//
// # Requests
//
//	GET    /api/session              Session
//	PATCH  /api/session              any of its settable fields; answers with the whole
//	GET    /api/instruments          {"instruments":[NAME...]}
//	GET    /api/instruments/NAME     Instrument, on ?reference_hz= or the session's
//	POST   /api/source               {"choice":"mic","input":"part of a name"}
//	POST   /api/tone                 {"on":true}: the target may sound and the ear is muted;
//	                                 it must be said again within the lease or ends by itself
//	GET    /api/wanted               Wanted
//	PUT    /api/wanted               {"text":"F#5 +30 +-15 bottle x2\n"}: the whole list, see package
//	                                 analysis/wanted; answers with Wanted, whose errors locate the
//	                                 lines that cannot be read: they stay in the text, the others count
//	PATCH  /api/wanted               one of {"order":[ID...]}, {"tick":ID}, {"untick":ID},
//	                                 {"found":{"strike":ID,"place":ID}} (place null: its verdict's),
//	                                 {"lost":STRIKE} and {"undo":true}; answers with Wanted
//	GET    /api/strikes              {"after":null,"until":ID,"strikes":[...]}, ?after=ID for those that follow
//	GET    /api/strikes/ID           Strike
//	GET    /api/strikes/ID.wav       the kept sound
//	DELETE /api/strikes/ID           throw away
//	POST   /api/strikes/ID/restore   take that back
//	POST   /api/strikes/ID/name      {"name":"blue jar"}; null takes the name away
//	POST   /api/strikes/ID/pin       {"partial":2} of its list or {"frequency_hz":812.5}: that partial is
//	                                 heard as the pitch, of this strike and of all of the same object,
//	                                 on the trail and to come; answers with Strike
//	DELETE /api/strikes/ID/pin       the ear decides again for that object; answers with Strike
//	       /api/shelf...            objects, voices, kept strikes: see The shelf over HTTP in DEVELOPERS.md
//	POST   /api/strikes/ID/keep     keep it on the shelf (keepAs); answers with Keeping
//	GET    /healthz                  200 while the ear hears, 503 while it is deaf
//
// What is refused is answered with {"error":{"field":...,"words":...}}: words
// are one sentence that can be shown as it is. POST and PATCH want
// Content-Type: application/json and, from a browser, the page's own origin.
//
// # Adding a message
//
// Add its type constant and struct to message.go with a constructor, a row to
// the table above, an example to messages_test.go and run
//
//	go test ./webview -run Wire -update
//
// which writes testdata/wire/TYPE.json; read the file, then teach it to
// webview/page's message.ts, whose test reads the same files. Both sides fail
// until they agree.
package webview
