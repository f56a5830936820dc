using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Records;

namespace Traceability.Core.Judging.Holds;

/// <summary>
/// Where the agency only witnesses: due notice, or its presence. Notice is of a day: a step taken on another day was not
/// announced (our own choice: what contracts say of a postponed pour differs). Days are the plant's.
/// </summary>
internal static class AgencyNotice
{
    public static IEnumerable<AgencyAct> Of(Matter matter, HoldRule rule, Step? step, List<string> why)
    {
        foreach (var present in matter.File.Entries.Where(e => Present(e, matter.File.Unit, rule.Hold) && OfContract.Now(matter.File, e)).Reverse())
        {
            var (begins, ends) = Day(matter, present.At.At);
            if (step is { } taken ? taken.At.At >= begins && taken.At.At < ends : matter.HasCome(begins) && !matter.HasCome(ends))
                yield return new(Verdict.Met, $"The agency's inspector was present on {present.At.At:yyyy-MM-dd}.", present, step is null ? ends : null);
            else why.Add($"The agency's inspector was present on {present.At.At:yyyy-MM-dd}, another day.");
        }

        var due = TimeSpan.FromTicks((long)Math.Min((rule.NoticeHours?.Value ?? 0) * TimeSpan.TicksPerHour, long.MaxValue / 2));
        foreach (var notice in OfContract.Now<NoticeGiven>(matter.File).Where(n => n.Fact.Hold == rule.Hold && n.Fact.Units.Any(u => Subject.Unit(u) == matter.File.Unit)).Reverse())
        {
            var said = $"{notice.Fact.Document} of {HoldRules.Time(notice.At.At)} for {HoldRules.Time(notice.Fact.StepAt)}";
            var (begins, ends) = Day(matter, notice.Fact.StepAt);
            if (step is { } taken)
            {
                var order = (notice.At with { At = Evidence.Later(notice.At.At, due) }).Compare(taken.At);
                if (taken.At.At < begins || taken.At.At >= ends) why.Add($"Notice {said} was of another day.");
                else if (order == TimeOrder.After) why.Add($"Notice {said} came less than {rule.NoticeHours?.Text ?? "0"} hours before the step.");
                else if (order == TimeOrder.CannotTell) yield return new(Verdict.CannotTell, $"The clocks do not say whether notice {said} came {rule.NoticeHours?.Text ?? "0"} hours before the step.", notice.Whole);
                else yield return new(Verdict.Met, $"The agency had due notice: {said}.", notice.Whole);
            }
            else if (notice.Fact.StepAt - notice.At.At < due) why.Add($"Notice {said} is less than {rule.NoticeHours?.Text ?? "0"} hours.");
            else if (matter.HasCome(ends)) why.Add($"Notice {said} was of a day that has passed.");
            else yield return new(Verdict.Met, $"The agency has due notice: {said}.", notice.Whole, ends);
        }
    }

    private static bool Present(Entry entry, Subject unit, HoldKind hold) => entry.Fact switch
    {
        AgencyPresent present => present.Hold == hold && present.Units.Any(u => Subject.Unit(u) == unit),
        AgencyWitnessed witnessed => witnessed.Hold == hold && witnessed.About == unit,
        _ => false,
    };

    private static (DateTimeOffset Begins, DateTimeOffset Ends) Day(Matter matter, DateTimeOffset at)
    {
        var (time, day) = (matter.File.Time, matter.File.Time.DayOf(at));
        return (time.StartOf(day), time.StartOf(day.AddDays(1)));
    }
}
