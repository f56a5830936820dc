using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Records;
using Traceability.PlantSimulator.Story.Weeks;

namespace Traceability.Faults.Tests.Story;

/// <summary>Holds an expectation of the story against what the core says.</summary>
internal static class Expected
{
    /// <summary>What differs, in words; null when nothing does.</summary>
    public static string? Differs(PureService told, Tale tale, Expectation expectation)
    {
        var at = expectation.At ?? tale.End;
        var difference = expectation switch
        {
            HoldExpected e => told.Judged(e.Unit, at).Holds.FirstOrDefault(h => h.Kind == e.Hold) is { } hold ? Of(hold, e) : $"{e.Unit}: nothing judges the {e.Hold} hold",
            FindingExpected e => Of(told.Judged(e.Unit, at), e),
            AllowedExpected e => Of(told.Judged(e.Unit, at), e),
            RecallExpected e => Of(tale.Units.Select(u => (u, told.File(u, at))), e),
            PlaceExpected e => UnitState.Of(told.File(e.Unit, at)).Phase is var place && place == e.Place ? null : $"{e.Unit} is at {place}, not {e.Place}",
            _ => "nobody knows how to look at this expectation",
        };
        return difference is null ? null : $"{expectation.Chapter} ({at:MM-dd HH:mm}): {difference}";
    }

    private static string? Of(Hold hold, HoldExpected e) =>
        hold.State != e.State ? $"{e.Unit}: the {e.Hold} hold is {hold.State}, not {e.State}: {string.Join("; ", hold.OpenItems.Take(4).Select(o => $"{o.Requirement} {o.Subject}: {o.Reason}"))}"
        : e.Contradicted is { } contradicted && hold.Contradicted != contradicted ? $"{e.Unit}: the {e.Hold} hold is {(contradicted ? "not " : "")}contradicted" : null;

    private static string? Of(Judgement judgement, FindingExpected e)
    {
        var findings = judgement.Findings.Where(f => f.Requirement == e.Requirement).ToList();
        return findings.Exists(f => f.Verdict == e.Verdict && (e.About is null || f.Subject.Contains(e.About, StringComparison.Ordinal) || f.Reason.Contains(e.About, StringComparison.Ordinal)))
            ? null : $"{e.Unit}: no finding of {e.Requirement} is {e.Verdict}{(e.About is null ? "" : " about " + e.About)}; there are: {string.Join("; ", findings.Select(f => $"{f.Subject}: {f.Verdict} {f.Reason}"))}";
    }

    private static string? Of(Judgement judgement, AllowedExpected e)
    {
        var open = judgement.Findings.Where(f => f.Requirement == e.Requirement && !f.Allows).ToList();
        return open.Count == 0 && judgement.Findings.Any(f => f.Requirement == e.Requirement)
            ? null : $"{e.Unit}: {e.Requirement} does not allow: {string.Join("; ", open.Select(f => $"{f.Subject}: {f.Verdict} {f.Reason}"))}";
    }

    private static string? Of(IEnumerable<(string Unit, UnitFile File)> files, RecallExpected e)
    {
        var subject = Subject.Parse(e.Subject);
        var reached = files.Where(f => f.File.Reached.Contains(subject)).ToList();
        var certain = reached.Where(f => !f.File.OnlyPossible.Contains(subject)).Select(f => f.Unit).Order(StringComparer.Ordinal).ToList();
        var possible = reached.Where(f => f.File.OnlyPossible.Contains(subject)).Select(f => f.Unit).Order(StringComparer.Ordinal).ToList();
        return certain.SequenceEqual(e.Certain.Order(StringComparer.Ordinal)) && possible.SequenceEqual(e.Possible.Order(StringComparer.Ordinal))
            ? null : $"{e.Subject} reaches certainly {string.Join(", ", certain)} and possibly {string.Join(", ", possible)}";
    }
}
