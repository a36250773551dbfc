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
//	bench       bench        the bench has changed (Bench); on connection only if anything was ever on it
//	shelf       shelf        anything on the shelf, its stand, call-over or walk has changed (ShelfForm)
//	phones      phones       browsers that lend their microphones have changed (list of Phone)
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
// # The bench
//
// While there is a job, every settled strike whose way (struck or blown) is the
// one that is meant becomes an entry by itself, with what was poured before it,
// and is brought up to date by its later tellings; PATCH follow=false ends that.
// Each change works the advice out anew and tells it in a bench message. The job
// and the drift outlive the program. To keep the result, POST the last entry's
// strike to /api/strikes/ID/keep with the fill in words ("286 ml").
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
//	       /api/shelf...             objects, voices, kept strikes: see The shelf over HTTP in DEVELOPERS.md
//	POST   /api/strikes/ID/keep      keep it on the shelf (keepAs); answers with Keeping
//	GET    /api/bench                Bench; its messages and answers: testdata/wire/bench
//	POST   /api/bench                BenchSpec: begins a job; the one before is put away
//	PATCH  /api/bench                any of {"aim","pour","follow","vessel"}
//	DELETE /api/bench                puts the job away
//	POST   /api/bench/pour           {"ml":35} or {"g":35}, negative for taken out; several add up until the next sound
//	POST   /api/bench/entries        {"hz":812.5,"sigma_cents":0.5} typed, or {"strike":ID}; 409 and a question in
//	                                 Bench.asks where it sounds as if the other thing was done: {"strike":ID,"anyway":true}
//	POST   /api/bench/undo           takes back the question, the last sound or the last pour
//	POST   /api/bench/row            RowSpec: which vessel for which note; answers with RowForm and changes nothing
//	GET    /api/temperature          {"temperature":Warmth or null}
//	POST   /api/temperature          {"celsius":21.5,"humidity_percent":45}: for sensors, see scripts below
//	GET    /api/drift                DriftAnswer; ?stage_celsius=29, and &here_celsius= and &within_cents= if not usual
//	POST   /api/drift                {"voice","material","strike":ID or "hz":440.1,"celsius":21.5}: notes a reading; only
//	                                 voice must be there, and celsius where no thermometer tells it
//	POST   /api/drift/follow         {"voice":NAME}: its strikes are noted from now on; null: nobody's
//	POST   /api/drift/NAME/undo      takes back its last reading
//	DELETE /api/drift/NAME           forgets it
//	GET    /healthz                  200 while the ear hears, 503 while it is deaf
//	GET    /metrics                  Prometheus text
//
// What is refused is answered with {"error":{"field":...,"words":...}}: words
// are one sentence that can be shown as it is. What sends JSON wants
// Content-Type: application/json, a photo its own; and from a browser all want
// the page's own origin.
//
// The forms of the answers to what follows are in testdata/wire/answers.
//
//	GET    /api/token                {"token"}: goes as X-Ringwell-Token with every change
//	GET    /api/share                {"on","urls","fingerprint","here","device"}: how the page is
//	                                 shared, whether you are on ringwell's own computer, and else who you are
//	GET    /api/devices              {"devices":[{"id","name","paired","seen"}...]}
//	POST   /api/devices/ID/name      {"name"}
//	DELETE /api/devices/ID           ends a pairing; open sockets close with 4003 within a second
//	POST   /api/pair                 {"secret","name"}: sets the cookie; 403 wrong, used or old, 429 too many guesses
//
// A device may rename and remove itself only; this machine any of them. For
// this machine alone, and 403 for others, are /healthz, /metrics and
//
//	POST   /api/pairing              {"url","expires"}: a new offer to pair one device; the one before is void
//	GET    /api/pairing/code.svg     the present offer as a QR code; 404 without one
//	GET    /api/scripts              {"calls":[CALL...],"tokens":[{"id","name","call","made"}...]}
//	POST   /api/scripts              {"name","call"}: {"id",...,"secret"}, the secret shown this once
//	DELETE /api/scripts/ID           makes it worthless
//
// Open to all at the shared door are /pair, its script and style, and
// /authority.crt, the certificate to install. Everything else answers 401
// there before pairing.
//
// # Changes and their token
//
// Every request but GET and HEAD shows the token of GET /api/token in the
// header X-Ringwell-Token, or is refused with 403 and the field "token". The
// token is another for every device and after every start of the daemon: a page
// that is refused with that field fetches it anew, once, and tries again. A
// script shows "Authorization: Bearer SECRET" in its place and can make the one
// call it was granted, at either door.
//
// # The phone's ear
//
// A page lends its microphone on the websocket /ear. It first sends one text
// frame (testdata/wire/ear/hello.json) within five seconds:
//
//	{"v":1,"type":"hello","token":TOKEN,"rate_hz":48000,"settings":{...}}
//
// rate_hz is the AudioContext's sampleRate, a whole number of 8000 to 192000;
// settings are those of the track's getSettings(). Echo cancellation, noise
// suppression and automatic gain that are not false there are told to everybody
// as words. Then it sends binary frames of one channel, all little-endian
// (frame-float32.bin, frame-int16.bin):
//
//	offset  type    what
//	0       uint8   version, 1
//	1       uint8   1: float32, full scale 1; 2: int16, full scale 32768
//	2       uint16  number of samples, 1 to 2048; send 10 to 40 ms a frame
//	4       uint32  sequence: 0 for the first of a connection, then one more each, also for frames never sent
//	8       uint64  sample clock: index of the first sample since capture began
//	16      ...     samples
//
// The sample clock says what was lost: sound is taken up where its clock puts
// it, and a jump ahead is lost sound, whether a frame was lost on the way, the
// page had to drop it (bufferedAmount grows), or capture itself paused. A frame
// whose clock goes back is late and left out. The sequence says how many frames
// are missing. When frames come does not matter: up to 256 wait for the ear.
//
// The server answers the hello, and then about once a second, with text
// (told.json): the ID of this phone, whether it is the ear, what came, what is
// missing or late, samples lost, and words. A page that has not been told for
// three seconds has lost its link: it says so, opens /ear anew, and sends its
// hello and frames from sequence 0; the sample clock may run on. The daemon
// goes on with it by itself if it was the ear.
//
// To lend is not yet to be the ear. One tap more makes it that:
// POST /api/source {"choice":"phone","input":ID}; with "" for the input the
// caller's own phone, or else the one that joined last, is meant, and 409 says
// that there is none. Whose ear it is stands in State.source, and in the
// message phones, where exactly one is in_use while a phone is the ear. The
// choice of another source hands over.
//
// The closes of /ear: 1001 the server stops; 1003, 1007, 1009 the protocol was
// broken, as the reason says; 1008 the token is not this page's, or more came
// than sound can be; 1013 eight phones are there already; 4001 the same device
// lends its microphone in another window; 4003 the device is no longer paired.
// /socket closes with 4003 too. A page opens neither again after 4001 or 4003.
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
