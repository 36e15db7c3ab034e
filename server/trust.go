package server

import (
	"net/http"
	"slices"
	"strings"
	"time"

	"thatch/timeline"
)

type trustPage struct {
	Lang        string
	Fingerprint []string // in lines of eight bytes; none: no certificate of our own
	Until       timeline.Day
}

// trust explains to a stranger's phone how to trust the certificate of our own making.
func (t *strangers) trust(w http.ResponseWriter, r *http.Request) {
	code := http.StatusNotFound
	p := trustPage{}
	if t.own != nil {
		code = http.StatusOK
		bytes := strings.Split(t.own.Fingerprint(), ":")
		for line := range slices.Chunk(bytes, 8) {
			p.Fingerprint = append(p.Fingerprint, strings.Join(line, ":"))
		}
		p.Until = timeline.DayOf(t.own.Until())
	}
	t.show(w, r, code, "trust.html", func(lang string) any { p.Lang = lang; return p })
}

// authority hands out the certificate as phones want to install it: DER, under the type by which browsers know one.
func (t *strangers) authority(w http.ResponseWriter, r *http.Request) {
	if t.own == nil {
		t.trust(w, r)
		return
	}
	w.Header().Set("Content-Type", "application/x-x509-ca-cert")
	w.Header().Set("Content-Disposition", `attachment; filename="thatch-salon.crt"`)
	http.ServeContent(w, r, "", time.Time{}, strings.NewReader(string(t.own.Authority())))
}
