package main

import (
	"context"
	"fmt"
	"strings"

	"wainscot/openapi"
)

// showMoney prints what was agreed, paid and is still open of every job, and
// holds the deposits by job against the books.
func (p *program) showMoney(ctx context.Context, bookkeeper client) error {
	jobs, err := openapi.Read[openapi.Jobs](bookkeeper.ListJobs(ctx, &openapi.ListJobsParams{})) //nolint:bodyclose // Read does
	if err != nil || len(jobs.Body.Jobs) == 0 {
		return err
	}
	table := grid{columns: []column{{title: "job", right: true}, {title: "agreed", right: true}, {title: "paid", right: true}, {title: "held as a deposit", right: true}, {title: "open", right: true}, {title: "next payment"}}}
	for _, j := range jobs.Body.Jobs {
		a, err := openapi.Read[openapi.JobAccount](bookkeeper.GetJobAccount(ctx, j.Id)) //nolint:bodyclose // Read does
		if err != nil {
			return err
		}
		next := ""
		for _, d := range a.Body.Payments {
			if d.State == "paid" {
				continue
			}
			next = fmt.Sprintf("%s, %s", d.Name, d.State)
			if d.On != "" {
				next += ", " + d.On
			}
			break
		}
		if next == "" && a.Body.Invoiced {
			next = "invoiced and paid"
		}
		table.add(fmt.Sprint(j.Number), a.Body.Total.Amount, a.Body.Paid.Amount, a.Body.DepositsHeld.Amount, a.Body.Open.Amount, next)
	}
	deposits, err := openapi.Read[openapi.DepositsNotEarned](bookkeeper.GetDeposits(ctx, &openapi.GetDepositsParams{})) //nolint:bodyclose // Read does
	if err != nil {
		return err
	}
	books, err := openapi.Read[openapi.Books](bookkeeper.GetBooks(ctx)) //nolint:bodyclose // Read does
	if err != nil {
		return err
	}
	fmt.Fprintln(p.Out, "\nMoney")
	table.write(p.Out, 2, lineWidth)
	fmt.Fprintf(p.Out, "  Deposits not yet earned by job: %s %s.\n", deposits.Body.Total.Amount, deposits.Body.Total.Currency)
	for _, a := range books.Body.Accounts {
		switch a.Account {
		case "deposits not yet earned", "receipts not yet placed", "VAT due", "bank":
			fmt.Fprintf(p.Out, "  In the books, %s: %s.\n", a.Account, a.Balance.Amount)
		}
	}
	return p.showOdd(ctx, bookkeeper)
}

// showOdd prints the receipts of which something is not placed, or was given
// back.
func (p *program) showOdd(ctx context.Context, bookkeeper client) error {
	limit := int32(100)
	receipts, err := openapi.Read[openapi.Receipts](bookkeeper.ListReceipts(ctx, &openapi.ListReceiptsParams{Limit: &limit})) //nolint:bodyclose // Read does
	if err != nil {
		return err
	}
	table := grid{columns: []column{{title: "receipt", right: true}, {title: "day"}, {title: "came in", right: true}, {title: "not placed", right: true}, {title: "given back", right: true}, {title: "what it is"}, {title: "what was written"}}}
	odd := 0
	for _, r := range receipts.Body.Receipts {
		one, err := openapi.Read[openapi.Receipt](bookkeeper.GetReceipt(ctx, r.Id)) //nolint:bodyclose // Read does
		if err != nil {
			return err
		}
		back := ""
		for _, f := range one.Body.Refunds {
			back = f.Amount.Amount
		}
		if back == "" && strings.Trim(r.Left.Amount, "0.") == "" {
			continue
		}
		odd++
		is := "too much, given back"
		switch {
		case back == "" && r.Payer == "":
			is = "without a reference, from nobody knows whom"
		case back == "":
			is = "more than is due"
		}
		table.add(fmt.Sprint(r.Number), r.Day, r.Amount.Amount, r.Left.Amount, back, is, r.Words)
	}
	if odd > 0 {
		fmt.Fprintln(p.Out, "\nReceipts to look at")
		table.write(p.Out, 2, lineWidth)
	}
	return nil
}
