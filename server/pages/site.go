package pages

import (
	"log/slog"

	"thatch/server/login"
	"thatch/server/salon"
)

// Site is every page of the salon. It is safe for concurrent use.
type Site struct {
	salon *salon.Salon
	log   *slog.Logger
	login *login.Manager
	kept  *kept
}

// New checks that every page has its template and every template its page, and that all of them parse.
func New(s *salon.Salon, log *slog.Logger) (*Site, error) {
	if err := shelf.check(); err != nil {
		return nil, err
	}
	return &Site{salon: s, log: log, kept: newKept(), login: login.New(s, login.Options{Log: log})}, nil
}
