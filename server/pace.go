package server

import (
	"fmt"
	"io"
	"net/http"
	"runtime"
	"time"
)

// A request may last as long as it moves: so long at first, then a second more for every so many bytes. A phone with a
// weak signal brings forty megabytes in; a connection that drips holds its place for half a minute.
const (
	paceGrace = 30 * time.Second
	paceBytes = 8 << 10 // a second
)

// paceGraceFor is paceGrace; a test has less time.
var paceGraceFor = paceGrace

// pace is one direction of a request: how long the other side may yet keep us waiting. Every byte that moves earns time, but
// never more than grace is kept: who was fast at first may not stand still for an hour. Time that we ourselves think is not
// counted.
type pace struct{ grace, credit time.Duration }

func newPace() pace { return pace{paceGraceFor, paceGraceFor} }

// left is how long the next n bytes may take.
func (p *pace) left(n int) time.Duration { return p.credit + earned(n) }

func (p *pace) count(n int, took time.Duration) { p.credit = min(p.grace, p.credit+earned(n)-took) }

func earned(n int) time.Duration { return time.Duration(float64(n) / paceBytes * float64(time.Second)) }

// answer is the writer of every request: it knows the status, and neither reads nor writes longer than the pace allows.
type answer struct {
	http.ResponseWriter
	control *http.ResponseController
	code    int
	out     pace
}

func paced(w http.ResponseWriter, r *http.Request) *answer {
	a := &answer{ResponseWriter: w, control: http.NewResponseController(w), out: newPace()}
	_ = a.control.SetWriteDeadline(time.Time{}) // the last request's on this connection; not every writer has one
	if r.Body != nil && r.Body != http.NoBody {
		in := &pacedBody{ReadCloser: r.Body, control: a.control, in: newPace()}
		_ = a.control.SetReadDeadline(time.Now().Add(paceGraceFor)) // a handler that never reads still ends
		r.Body = in
	}
	return a
}

func (a *answer) Unwrap() http.ResponseWriter { return a.ResponseWriter }

func (a *answer) WriteHeader(code int) {
	if a.code == 0 && code >= 200 {
		a.code = code
	}
	a.ResponseWriter.WriteHeader(code)
}

func (a *answer) Write(b []byte) (int, error) {
	if a.code == 0 {
		a.code = http.StatusOK
	}
	began := time.Now()
	_ = a.control.SetWriteDeadline(began.Add(a.out.left(len(b))))
	n, err := a.ResponseWriter.Write(b)
	_ = a.control.SetWriteDeadline(time.Time{}) // over HTTP/2 a stream ends at its deadline, though nobody writes
	a.out.count(n, time.Since(began))
	return n, err
}

// end gives what is still buffered its time.
func (a *answer) end() {
	_ = a.control.SetWriteDeadline(time.Now().Add(max(a.out.left(4<<10), time.Second)))
}

type pacedBody struct {
	io.ReadCloser
	control *http.ResponseController
	in      pace
}

func (b *pacedBody) Read(p []byte) (int, error) {
	began := time.Now()
	_ = b.control.SetReadDeadline(began.Add(b.in.left(0)))
	n, err := b.ReadCloser.Read(p)
	// Without a deadline again while we work: at the end of a body the server would take the connection for lost, and over
	// HTTP/2 in its middle too.
	_ = b.control.SetReadDeadline(time.Time{})
	b.in.count(n, time.Since(began))
	return n, err
}

// kindOfPanic says what broke without saying with what: a panic's value may hold what somebody typed.
func kindOfPanic(v any) string {
	if e, ok := v.(runtime.Error); ok {
		return e.Error()
	}
	return fmt.Sprintf("%T", v)
}
