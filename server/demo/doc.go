// Package demo builds an invented salon: three dogs at different stages of their coat, with photos drawn from a coat whose
// truth is known, logs and ruler readings. It goes through the same use cases as a person would.
//
// Everything in it is invented: dogs, clients, shows, lengths. The truth it draws from grows by the coat model with
// parameters of its own, unlike the starting guesses, so that forecasts can be right or wrong as in life.
package demo
