package server

import (
	"context"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"testing"

	"thatch/timeline"
)

func TestAnswersOnLoopbackOnly(t *testing.T) {
	for _, c := range []struct {
		listen string
		kind   timeline.Kind
		key    string
	}{
		{"0.0.0.0:0", timeline.Invalid, "fault.listen.loopback"},
		{":0", timeline.Invalid, "fault.listen.loopback"},
		{"192.0.2.7:8080", timeline.Invalid, "fault.listen.loopback"}, // E: documentation address, RFC 5737
		{"example.org:80", timeline.Invalid, "fault.listen.loopback"}, // a name may resolve to anything
		{"[::]:0", timeline.Invalid, "fault.listen.loopback"},
		{"127.0.0.1", timeline.Invalid, "fault.listen.address"},
		{"127.0.0.1:99999", timeline.Invalid, "fault.listen.address"},
		{"", timeline.Invalid, "fault.listen.address"},
	} {
		err := Serve(context.Background(), c.listen, http.NotFoundHandler(), func(string) { t.Errorf("%q listens", c.listen) })
		if f, ok := err.(*timeline.Fault); !ok || f.Kind != c.kind || f.Say.Key != c.key {
			t.Errorf("%q: %v, want %s", c.listen, err, c.key)
		}
	}
}

func TestATakenPortIsBusyAndSaysSo(t *testing.T) {
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer ln.Close()
	err = Serve(context.Background(), ln.Addr().String(), http.NotFoundHandler(), nil)
	if f, ok := err.(*timeline.Fault); !ok || f.Kind != timeline.Busy || f.Say.Key != "fault.listen.taken" {
		t.Errorf("%v", err)
	}
}

func TestARunningRequestIsFinishedWhenTheServerEnds(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	h := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		cancel()
		<-ctx.Done()
		w.WriteHeader(http.StatusTeapot)
	})
	answered := make(chan int, 1)
	err := Serve(ctx, "127.0.0.1:0", h, func(url string) {
		go func() {
			resp, err := http.Get(url)
			if err != nil {
				answered <- 0
				return
			}
			resp.Body.Close()
			answered <- resp.StatusCode
		}()
	})
	if err != nil {
		t.Fatal(err)
	}
	if got := <-answered; got != http.StatusTeapot {
		t.Errorf("the running request was answered %d", got)
	}
}

func TestOtherHostNamesAreRefused(t *testing.T) {
	h := onlyHosts(LoopbackHosts().Ours)(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {}))
	for host, want := range map[string]int{
		"localhost": 200, "localhost:8080": 200, "LOCALHOST:1": 200, "127.0.0.1:8080": 200, "[::1]:8080": 200, "[::1]": 200,
		"": 421, "example.org": 421, "localhost.example.org": 421, "127.0.0.1.example.org:80": 421, "localhost:x": 421, "127.0.0.2": 421,
	} {
		r := httptest.NewRequest("GET", "http://x/", nil)
		r.Host = host
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		if w.Code != want {
			t.Errorf("Host %q: %d, want %d", host, w.Code, want)
		}
	}
}

func TestAPanicIsA500AndTheNextRequestIsServed(t *testing.T) {
	h := watched(discard)(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path == "/boom" {
			panic("boom")
		}
	}))
	for path, want := range map[string]int{"/boom": 500, "/": 200} {
		w := httptest.NewRecorder()
		h.ServeHTTP(w, httptest.NewRequest("GET", path, nil))
		if w.Code != want {
			t.Errorf("%s: %d", path, w.Code)
		}
	}
}

var discard = slog.New(slog.DiscardHandler)
