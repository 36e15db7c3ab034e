package pages

import (
	"net/http"
	"time"

	"thatch/server/login"
	"thatch/store"
	"thatch/timeline"
	"thatch/web/words"
)

// langCookie is the language chosen in a browser, whoever sits at it.
const langCookie = "thatch_lang"

// languageOf is the language in which who asks is spoken to: the one chosen in this browser; then the salon's and the one
// that the browser asks for, this one first for strangers, who may have come from anywhere; then English.
func languageOf(r *http.Request, salons string) string {
	if c, err := r.Cookie(login.CookieName(r, langCookie)); err == nil && words.Spoken(c.Value) {
		return c.Value
	}
	asked := words.Asked(r.Header.Get("Accept-Language"))
	first, second := salons, asked
	if whoAsks(r) == nil {
		first, second = asked, salons
	}
	for _, code := range []string{first, second} {
		if words.Spoken(code) {
			return code
		}
	}
	return words.English
}

// SpeakerFor is the salon's unit and zone in the language of who asks, or that the address names.
func SpeakerFor(r *http.Request, set store.Settings) words.Speaker {
	set.Lang = languageOf(r, set.Lang)
	if named := r.URL.Query().Get("lang"); words.Spoken(named) {
		set.Lang = named
	}
	return speakerOf(set)
}

// chooseLanguage keeps a language in the browser.
func (s *Site) chooseLanguage(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(w, r)
	if err != nil {
		return err
	}
	code := f.Get("lang")
	if !words.Spoken(code) {
		return timeline.NewFault(timeline.Invalid, "fault.lang").In("lang")
	}
	http.SetCookie(w, &http.Cookie{
		Name: login.CookieName(r, langCookie), Value: code, Path: "/", MaxAge: int((400 * 24 * time.Hour).Seconds()), HttpOnly: true, Secure: r.TLS != nil, SameSite: http.SameSiteLaxMode,
	})
	return seeOther(w, r, f.Get("back"))
}
