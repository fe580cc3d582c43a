package main

import (
	"context"
	"fmt"
	"time"

	"wainscot/openapi"
)

// showBooks prints the rest of the bookkeeper's month: what suppliers charged,
// what became of a job that was cancelled, the stock book, the VAT, and what the
// jobs left.
func (p *program) showBooks(ctx context.Context, bookkeeper client) error {
	for _, show := range []func(context.Context, client) error{p.showCharged, p.showEnds, p.showStockBook, p.showVAT, p.showMargins} {
		if err := show(ctx, bookkeeper); err != nil {
			return err
		}
	}
	return nil
}

// showCharged prints suppliers' invoices and what is wrong with them.
func (p *program) showCharged(ctx context.Context, bookkeeper client) error {
	list, err := openapi.Read[openapi.SupplierInvoices](bookkeeper.ListSupplierInvoices(ctx, &openapi.ListSupplierInvoicesParams{})) //nolint:bodyclose // Read does
	if err != nil || len(list.Body.Invoices) == 0 {
		return err
	}
	table := grid{columns: []column{{title: "supplier"}, {title: "charged", right: true}, {title: "state"}, {title: "owed", right: true}, {title: "paid", right: true}, {title: "credit due", right: true}, {title: "why"}}}
	for _, s := range list.Body.Invoices {
		i, err := openapi.Read[openapi.SupplierInvoice](bookkeeper.GetSupplierInvoice(ctx, s.Id)) //nolint:bodyclose // Read does
		if err != nil {
			return err
		}
		why := ""
		for _, m := range i.Body.Match {
			for _, d := range m.Differences {
				why = fmt.Sprintf("%s: %s and not %s", d.What, d.Charged, d.Expected)
			}
		}
		table.add(s.SupplierName, s.Gross.Amount, string(s.State), s.Owed.Amount, s.Paid.Amount, s.Disputed.Amount, why)
	}
	fmt.Fprintln(p.Out, "\nWhat suppliers charged")
	table.write(p.Out, 2, lineWidth)
	return nil
}

// showEnds prints what was kept and given back of jobs that were cancelled.
func (p *program) showEnds(ctx context.Context, bookkeeper client) error {
	state := openapi.JobState("cancelled")
	jobs, err := openapi.Read[openapi.Jobs](bookkeeper.ListJobs(ctx, &openapi.ListJobsParams{State: &state})) //nolint:bodyclose // Read does
	if err != nil || len(jobs.Body.Jobs) == 0 {
		return err
	}
	table := grid{columns: []column{{title: "job", right: true}, {title: "held", right: true}, {title: "it cost", right: true}, {title: "kept", right: true}, {title: "of that VAT", right: true}, {title: "given back", right: true}, {title: "why"}}}
	for _, j := range jobs.Body.Jobs {
		s, err := openapi.Read[openapi.Settlement](bookkeeper.GetSettlement(ctx, j.Id, &openapi.GetSettlementParams{})) //nolint:bodyclose // Read does
		if err != nil {
			return err
		}
		back := ""
		for _, r := range s.Body.Refunds {
			back = r.Amount.Amount
		}
		table.add(fmt.Sprint(j.Number), s.Body.Held.Amount, s.Body.Cost.Amount, s.Body.Kept.Amount, s.Body.KeptVat.Amount, back, s.Body.Reason)
	}
	fmt.Fprintln(p.Out, "\nDeposits of jobs that were cancelled")
	table.write(p.Out, 2, lineWidth)
	return nil
}

// showStockBook prints the vans under the margin scheme.
func (p *program) showStockBook(ctx context.Context, bookkeeper client) error {
	book, err := openapi.Read[openapi.StockVans](bookkeeper.ListStockVans(ctx)) //nolint:bodyclose // Read does
	if err != nil || len(book.Body.Vans) == 0 {
		return err
	}
	table := grid{columns: []column{{title: "van", right: true}, {title: "came in"}, {title: "how"}, {title: "for", right: true}, {title: "miles", right: true}, {title: "sold"}}}
	for _, v := range book.Body.Vans {
		sold := "stands here"
		switch {
		case v.Sale.On != "":
			sold = v.Sale.On + " for " + v.Sale.Price.Amount
		case v.BackOn != "":
			sold = "went back on " + v.BackOn
		}
		table.add(fmt.Sprint(v.Number), v.BoughtOn, string(v.How), v.Paid.Amount, fmt.Sprint(v.MileageMiles), sold)
	}
	fmt.Fprintln(p.Out, "\nThe stock book of vans under the margin scheme")
	table.write(p.Out, 2, lineWidth)
	return nil
}

// vatDays is how far back the demo's VAT goes: before its first day.
const vatDays = 60

// showVAT prints the VAT of the demo's weeks.
func (p *program) showVAT(ctx context.Context, bookkeeper client) error {
	deposits, err := openapi.Read[openapi.DepositsNotEarned](bookkeeper.GetDeposits(ctx, &openapi.GetDepositsParams{})) //nolint:bodyclose // Read does
	if err != nil {
		return err
	}
	today, err := time.Parse(time.DateOnly, deposits.Body.On)
	if err != nil {
		return err
	}
	asked := openapi.GetVatReportParams{From: today.AddDate(0, 0, -vatDays).Format(time.DateOnly), Until: deposits.Body.On}
	r, err := openapi.Read[openapi.VatReport](bookkeeper.GetVatReport(ctx, &asked)) //nolint:bodyclose // Read does
	if err != nil {
		return err
	}
	table := grid{columns: []column{{title: "side"}, {title: "treatment"}, {title: "%", right: true}, {title: "without VAT", right: true}, {title: "VAT", right: true}}}
	for _, side := range []struct {
		name string
		rows []openapi.VATSum
	}{{"due", r.Body.Output}, {"paid", r.Body.Input}} {
		for _, v := range side.rows {
			table.add(side.name, string(v.Treatment), v.VatPercent, v.Net.Amount, v.Vat.Amount)
		}
	}
	table.add("due less paid", "", "", "", r.Body.Balance.Amount)
	fmt.Fprintf(p.Out, "\n%s\n", r.Body.Heading)
	table.write(p.Out, 2, lineWidth)
	return nil
}

// showMargins prints what the jobs of which something was earned left.
func (p *program) showMargins(ctx context.Context, bookkeeper client) error {
	m, err := openapi.Read[openapi.JobMargins](bookkeeper.GetMargins(ctx, &openapi.GetMarginsParams{})) //nolint:bodyclose // Read does
	if err != nil || len(m.Body.Jobs) == 0 {
		return err
	}
	table := grid{columns: []column{{title: "job", right: true}, {title: "invoiced", right: true}, {title: "kept", right: true}, {title: "hours", right: true}, {title: "parts", right: true}, {title: "outside work", right: true}, {title: "margin", right: true}, {title: "%", right: true}}}
	for _, j := range m.Body.Jobs {
		s := j.Margin
		table.add(fmt.Sprint(j.Number), s.Sales.Amount, s.DepositsKept.Amount, s.Hours.Amount, s.Parts.Amount, s.OutsideWork.Amount, s.Margin.Amount, s.MarginPercent)
	}
	fmt.Fprintln(p.Out, "\nMargin by job, without VAT: what was earned less what it really cost")
	table.write(p.Out, 2, lineWidth)
	fmt.Fprintln(p.Out, "  Parts are those that were issued to a job or ordered for it.")
	return nil
}
