package coat

import "thatch/timeline"

// ForecastStart is Model.ForecastStart of this zone alone: before any work of the day, with the log's work of earlier days.
func (z *ZoneModel) ForecastStart(on timeline.Day, t Target) ZoneForecast {
	return z.stateAt(on-1).Forecast(on, t)
}

// ForecastEnd is Model.Forecast of this zone alone: after the logged work of the day, with no work after Today.
func (z *ZoneModel) ForecastEnd(on timeline.Day, t Target) ZoneForecast {
	return z.stateAt(on).Forecast(on, t)
}
