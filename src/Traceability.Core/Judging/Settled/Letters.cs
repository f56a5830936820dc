using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging.Holds;

namespace Traceability.Core.Judging.Settled;

/// <summary>
/// What a letter makes of a finding: "not met" becomes "not met, accepted"; what is not met, missing or pending becomes
/// "waived". Never "met". No letter settles a check of lifting, the agency's own part in a hold, or a rejection.
/// </summary>
internal static class Letters
{
    public static Finding Settle(Matter matter, Finding finding)
    {
        if (finding.Verdict is not (Verdict.NotMet or Verdict.Missing or Verdict.Pending)) return finding;
        if (Overrides.IsLifting(finding.Requirement) || Overrides.IsAgency(finding.Requirement) || Overrides.IsRejection(finding.Requirement)) return finding;
        if (finding.Verdict == Verdict.NotMet && Accepted(matter, finding) is { } accepted) return accepted;
        return Waived(matter, finding);
    }

    private static Finding? Accepted(Matter matter, Finding finding)
    {
        var file = matter.File;
        if (OfContract.Now<AgencyAccepted>(file).LastOrDefault(a => a.Fact.About == file.Unit && Names(a.Fact.Accepts, finding)) is { } letter)
        {
            return By(finding, Verdict.NotMetAccepted, letter.Whole,
                $"Accepted by the agency, letter {letter.Fact.Letter} of {letter.Fact.AcceptedOn:yyyy-MM-dd}{Recorded(letter.Person)}{Conditions(letter.Fact.Conditions)}.");
        }

        return file.Of<NonconformanceApproved>().LastOrDefault(a => Names(a.Fact.Accepts, finding) && Nonconformances.Accepts(matter, a, finding)) is { } approval
            ? By(finding, Verdict.NotMetAccepted, approval.Whole,
                $"Accepted under nonconformance {approval.Fact.Nonconformance} by the {Nonconformances.Words(approval.Fact.By)}, letter {approval.Fact.Letter} of {approval.Fact.ApprovedAt:yyyy-MM-dd}{Recorded(approval.Person)}{Conditions(approval.Fact.Conditions)}.")
            : null;
    }

    private static Finding Waived(Matter matter, Finding finding)
    {
        var not = new List<string>();
        foreach (var waiver in Waiver.Of(matter, finding))
        {
            var step = waiver.Fact.Hold == HoldKind.Place ? Steps.Placing(finding.Subject, matter.File) : Steps.Now(waiver.Fact.Hold, matter.File);
            switch (waiver.Covers(matter, step, evenAfterwards: true))
            {
                case Coverage.Yes:
                    return By(finding, Verdict.Waived, waiver.Entry, $"Waived by the agency: {waiver.Words}{Recorded(waiver.Entry.Person)}.");
                case Coverage.CannotTell:
                    not.Add($"The clocks do not say whether the agency's waiver covers the step: {waiver.Words}.");
                    break;
                default:
                    not.Add($"The agency's waiver does not cover {(step is { } taken ? HoldRules.Time(taken.At.At) : "this moment")}: {waiver.Words}.");
                    break;
            }
        }

        return not.Count == 0 ? finding : finding with { Reason = string.Join(" ", not.Prepend(finding.Reason)) };
    }

    private static Finding By(Finding finding, Verdict verdict, Entry letter, string how) =>
        finding with { Verdict = verdict, Reason = $"{finding.Reason} {how}", Clear = "", Used = [.. finding.Used, letter.Source.Id] };

    private static bool Names(IReadOnlyList<AcceptedFinding> accepts, Finding finding) =>
        accepts.Any(a => string.Equals(a.Requirement, finding.Requirement, StringComparison.Ordinal) && (a.Subject is null || string.Equals(a.Subject, finding.Subject, StringComparison.Ordinal)));

    private static string Recorded(string? person) => person is null ? "" : ", recorded by " + person;

    private static string Conditions(string? conditions) => conditions is null ? "" : ", on condition: " + conditions;
}
