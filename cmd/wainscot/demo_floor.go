package main

import (
	"context"
	"fmt"
	"time"

	"wainscot/openapi"
)

// showFloor prints every job, where it is, and what stops those that are not
// done, as the foreman sees them on a Monday.
func (p *program) showFloor(ctx context.Context, foreman client, o *offer) error {
	jobs, err := openapi.Read[openapi.Jobs](foreman.ListJobs(ctx, &openapi.ListJobsParams{})) //nolint:bodyclose // Read does
	if err != nil || len(jobs.Body.Jobs) == 0 {
		return err
	}
	outlook, err := openapi.Read[openapi.OutlookList](foreman.GetOutlook(ctx, &openapi.GetOutlookParams{})) //nolint:bodyclose // Read does
	if err != nil {
		return err
	}
	// A van that should be gone has its slot behind it.
	from, until := p.Now().AddDate(0, -3, 0).Format(time.DateOnly), p.Now().AddDate(0, 9, 0).Format(time.DateOnly)
	slots, err := openapi.Read[openapi.Slots](foreman.ListSlots(ctx, &openapi.ListSlotsParams{From: &from, Until: &until})) //nolint:bodyclose // Read does
	if err != nil {
		return err
	}
	days := map[string]string{}
	for _, s := range slots.Body.Slots {
		days[s.Job] = s.From + " to " + s.Until
	}
	stops := map[string]openapi.Outlook{}
	for _, v := range outlook.Body.Vans {
		stops[v.Job] = v
	}
	names := map[string]string{}
	for _, s := range o.release.Catalogue().Stages {
		names[s.Code] = s.Name
	}
	plates := map[string]string{}
	for _, j := range jobs.Body.Jobs {
		if j.Van == "" {
			continue
		}
		van, err := openapi.Read[openapi.KeptVan](foreman.GetVan(ctx, j.Van)) //nolint:bodyclose // Read does
		if err != nil {
			return err
		}
		plates[j.Van] = van.Body.Van.Registration
	}
	table := grid{columns: []column{{title: "job", right: true}, {title: "van"}, {title: "state"}, {title: "slot"}, {title: "at"}, {title: "what stops it"}}}
	for _, j := range jobs.Body.Jobs {
		at, why := "", ""
		if v, ok := stops[j.Id]; ok {
			if at = "before " + names[v.Next]; len(v.Stages) > 0 {
				at = names[v.Stages[0]]
			}
			if len(v.Stops) > 0 {
				why = v.Stops[0].Says
			}
			if more := len(v.Stops) - 1; more > 0 {
				why += fmt.Sprintf(" And %d more.", more)
			}
		}
		table.add(fmt.Sprint(j.Number), plates[j.Van], string(j.State), days[j.Id], at, why)
	}
	fmt.Fprintln(p.Out, "\nJobs")
	table.write(p.Out, 2, lineWidth)
	return nil
}
