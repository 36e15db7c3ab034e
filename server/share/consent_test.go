package share_test

import (
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"thatch/server"
	"thatch/server/pages"
	"thatch/server/salon"
	"thatch/server/share"
	"thatch/timeline"
)

var discard = slog.New(slog.DiscardHandler)

// nobody is a sign-in that knows no one.
type nobody struct{}

func (nobody) Middleware(next http.Handler) http.Handler { return next }

func newDog(name string) salon.NewDog { return salon.NewDog{Name: name, ShareOK: true} }

func TestConsentIsNotedWithItsDayAndWhoNotedIt(t *testing.T) {
	x := opened(t)
	s := x.shared("Wisp", 60)
	ada := timeline.WithVisitor(t.Context(), timeline.Visitor{Person: "0123456789abcdef", Name: "Ada", Role: timeline.Groomer})
	d := must(x.s.Dog(t.Context(), s.dog.ID))
	if c := must(x.s.ConsentOf(t.Context(), d)); !c.At.Equal(d.Added) || c.By != "" {
		t.Errorf("agreed with the first form: %+v", c)
	}
	d = must(x.s.NoteConsent(ada, d.ID, d.Rev, false))
	if c := must(x.s.ConsentOf(t.Context(), d)); !c.At.IsZero() || d.ShareOK {
		t.Errorf("taken back: %+v", c)
	}
	x.dead("the consent taken back", s.at(""))
	if _, err := x.s.NoteConsent(ada, d.ID, d.Rev-1, true); timeline.KindOf(err) != timeline.Conflict {
		t.Errorf("from an older page: %v", err)
	}
	x.clock(today + 3)
	d = must(x.s.NoteConsent(ada, d.ID, d.Rev, true))
	if c := must(x.s.ConsentOf(t.Context(), d)); timeline.DayOf(c.At) != today+3 || c.By != "Ada" {
		t.Errorf("noted by Ada: %+v", c)
	}
	if body := x.get("/dogs/" + string(d.ID) + "/client").Body.String(); !strings.Contains(body, "Ada noted it") {
		t.Error("the page does not tell who noted it")
	}
}

func TestALinkIsOpenedOnOtherDevicesUnderTheSalonsName(t *testing.T) {
	x := opened(t)
	s := x.shared("Wisp", 60)
	clients := must(share.Handler(x.s, discard))
	h := must(server.New(x.s, server.Options{Log: discard, Share: clients, Hosts: server.LoopbackHosts("salon.example"), Login: nobody{}}))
	for host, want := range map[string]int{"salon.example": 200, "SALON.example:8420": 200, "127.0.0.1:8420": 200, "example.org": 421} {
		for _, path := range x.every(s) {
			r := httptest.NewRequest("GET", path, nil)
			r.Host, r.RemoteAddr = host, "192.168.1.30:5000"
			w := httptest.NewRecorder()
			h.ServeHTTP(w, r)
			if w.Code != want {
				t.Errorf("as %s: %d, want %d", host, w.Code, want)
			}
		}
	}
}

// Whoever sends links elsewhere by mistake is told that they are none, however often they are tried.
func TestTriesAreCountedAndALinkThatHoldsIsNotLostByThem(t *testing.T) {
	x := opened(t)
	s := x.shared("Wisp", 60)
	clients := must(share.Handler(x.s, discard))
	h := must(server.New(x.s, server.Options{Log: discard, Share: clients, Login: nobody{}}))
	from := func(address, path string) int {
		r := httptest.NewRequest("GET", path, nil)
		r.Host, r.RemoteAddr = "127.0.0.1:8420", address
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		return w.Code
	}
	tries := 0
	for ; from("192.168.1.66:5000", pages.SharePath+strings.Repeat("q", 43)) == 404; tries++ {
		if tries > 1000 {
			t.Fatal("a thousand tries were answered")
		}
	}
	if tries < 30 || tries > 100 {
		t.Errorf("%d tries were answered", tries)
	}
	if c := from("192.168.1.67:5000", s.at("")); c != 200 {
		t.Errorf("the client at another address: %d", c)
	}
}

func BenchmarkDeadLinks(b *testing.B) {
	x := opened(b)
	ctx := b.Context()
	d := must(x.s.CreateDog(ctx, newDog("Wisp")))
	live, _, err := x.s.MakeLink(ctx, d.ID, "A")
	withdrawn, l, err2 := x.s.MakeLink(ctx, d.ID, "B")
	if err != nil || err2 != nil || x.s.WithdrawLink(ctx, l.ID) != nil {
		b.Fatal(err, err2)
	}
	other := must(x.s.CreateDog(ctx, newDog("Thorn")))
	unwanted, _, err := x.s.MakeLink(ctx, other.ID, "C")
	if err == nil {
		_, err = x.s.NoteConsent(ctx, other.ID, other.Rev, false)
	}
	if err != nil {
		b.Fatal(err)
	}
	for name, token := range map[string]string{"live": live, "withdrawn": withdrawn, "consent taken back": unwanted, "unknown": strings.Repeat("q", 43)} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				if w := x.get(pages.SharePath + token); (w.Code == 200) != (name == "live") {
					b.Fatal(w.Code)
				}
			}
		})
	}
}
