using Traceability.Core.Concrete;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Profiles;
using Traceability.Core.Quantities;
using Traceability.Core.Records;

namespace Traceability.Core.Judging;

/// <summary>What is asked of a set of cylinders.</summary>
/// <param name="RequiredPsi">Least mean strength, psi.</param>
/// <param name="Cylinders">Fewest cylinders whose break counts.</param>
/// <param name="CuredWithUnit">Only cylinders that cured with the unit stand for it.</param>
/// <param name="Step">The step the set has to come before; null while it was not taken.</param>
/// <param name="StepWords">"the unit was stripped".</param>
/// <param name="StandardCured">Only standard-cured cylinders are an acceptance test; cured in the field they are for stripping and strength in place. ASTM C31/C31M-24b, 4 (published).</param>
/// <param name="AgeDays">Age the breaks are due at, days, with <paramref name="AgeWindowHours"/>; null when any age serves.</param>
internal sealed record SetDemand(decimal RequiredPsi, int Cylinders, bool CuredWithUnit, Moment? Step, string StepWords, decimal? AgeDays = null, decimal? AgeWindowHours = null, bool StandardCured = false);

/// <summary>
/// The cylinders of one purpose from one sample, judged. A break that cannot be used (diameters apart, tester or machine not
/// valid, wrong age, after the step) counts as missing and stays visible; when it is low it stays in the mean, because a low
/// result is not dropped for a fault of its test.
/// </summary>
internal sealed record CylinderSet(Verdict Verdict, string Reason, string Observed, DateTimeOffset? Due, IReadOnlyList<Guid> Used, IReadOnlyList<UnusedEvidence> SetAside)
{
    /// <summary>Mean strength of the cylinders that count, psi; null when none does.</summary>
    public decimal? MeanPsi { get; private init; }

    /// <summary>
    /// A set broken low may be waited with and broken again: an earlier low break is left out of a later round that begins at
    /// least this much later. Common practice of plants, no source; the hour is our own choice.
    /// </summary>
    public static readonly TimeSpan WaitedAtLeast = TimeSpan.FromHours(1);

    /// <summary>Limits that judging a set asks the profile for, besides the number of cylinders.</summary>
    public static readonly IReadOnlyList<string> Limits = [DiametersApart, MachineError];

    private const string DiametersApart = "cylinder.diameter-difference", MachineError = "cylinder.machine-error";

    private sealed record Break(Entry<CylinderBroken> Broken, string Size, decimal? Psi, IReadOnlyList<string> Doubts, bool OrderUnknown, bool TooYoung)
    {
        // Younger than the age asked is no low result: the concrete had not had its time.
        public bool IsLow(decimal requiredPsi) => Psi < requiredPsi && !TooYoung;
    }

    public static CylinderSet Judge(Matter matter, Entry<SampleTested> sample, CylinderPurpose purpose, SetDemand demand)
    {
        if (matter.Limit(DiametersApart) is not { } apart) return NoLimit(matter, DiametersApart);
        if (matter.Limit(MachineError) is not { } error) return NoLimit(matter, MachineError);
        var cast = sample.Fact.Cylinders.Where(c => c.Purpose == purpose).ToList();
        var breaks = matter.File.Breaks(purpose).Where(b => b.Sample.Id == sample.Id)
            .Select(b => Look(matter, b.Break, b.Sample, b.Cylinder, demand, apart.Value.Value, error.Value.Value)).ToList();

        var rounds = Rounds(breaks, demand).Select(r => Round(matter, r, demand)).ToList();
        var chosen = new[] { Verdict.Met, Verdict.NotMet, Verdict.CannotTell, Verdict.Missing }.Select(v => rounds.Find(r => r.Verdict == v)).FirstOrDefault(r => r is not null)
            ?? new CylinderSet(Verdict.Missing, "No cylinder of the set has been broken.", "", null, [], []);
        if (chosen.Verdict == Verdict.Missing) chosen = Wait(matter, chosen, sample, demand, cast.Count, breaks);
        var aside = breaks.Where(b => !chosen.Used.Contains(b.Broken.Id))
            .Select(b => new UnusedEvidence(b.Broken.Id, $"cylinder {b.Broken.Fact.Cylinder}: " + (b.Doubts.Count > 0 ? string.Join("; ", b.Doubts) : "an earlier round, broken again later")));
        return chosen with { Used = [sample.Id, .. chosen.Used], SetAside = [.. chosen.SetAside, .. aside, .. matter.Unused<CylinderBroken>()] };
    }

    private static CylinderSet NoLimit(Matter matter, string key) =>
        new(Verdict.Missing, matter.Profile is null ? "No profile of limits is in force." : $"The profile {matter.Profile.Fact.About.Id} has no limit '{key}'.", "", null, [], []);

    private static Break Look(Matter matter, Entry<CylinderBroken> broken, Entry<SampleTested> sample, CylinderCast cylinder, SetDemand demand, decimal apartPct, decimal errorPct)
    {
        var fact = broken.Fact;
        var doubts = new List<string>();
        var difference = Strength.DiameterDifferencePct(fact.Diameter1In.Value, fact.Diameter2In.Value);
        if (difference > apartPct) doubts.Add($"diameters {fact.Diameter1In.Text} and {fact.Diameter2In.Text} in are {Matter.Text(decimal.Round(difference, 2))} % apart");
        decimal? psi = null;
        if (Strength.MeanDiameterIn(fact.Diameter1In.Value, fact.Diameter2In.Value, matter.Rounding) > 0)
            psi = Strength.Psi(fact.LoadLbf.Value, fact.Diameter1In.Value, fact.Diameter2In.Value, fact.LengthIn.Value, matter.Rounding);
        if (psi is null) doubts.Add("shorter than its diameter, no strength can be stated");
        if (matter.Certified(broken.Person, Certification.StrengthTestingTechnician, broken.At) is { Valid: false } tester) doubts.Add(tester.Words);
        if (matter.InCalibration(fact.Machine, broken.At.At, errorPct) is { Valid: false } machine) doubts.Add(machine.Words);
        if (demand.CuredWithUnit && cylinder.Curing != CuringPlace.WithUnit) doubts.Add("it did not cure with the unit");
        if (demand.StandardCured && cylinder.Curing != CuringPlace.Standard) doubts.Add("it was not standard-cured");
        if (demand is { AgeDays: { } days, AgeWindowHours: { } window } && !TestAge.IsAt(sample.Clocked(sample.Fact.MouldedAt).At, broken.At.At, days * 24, window))
            doubts.Add($"broken at {Matter.Text(decimal.Round(TestAge.Hours(sample.Clocked(sample.Fact.MouldedAt).At, broken.At.At) / 24, 2))} d, outside {Matter.Text(days)} d +-{Matter.Text(window)} h");
        var tooYoung = demand is { AgeDays: { } age, AgeWindowHours: { } early } && TestAge.Hours(sample.Clocked(sample.Fact.MouldedAt).At, broken.At.At) < age * 24 - early;
        var order = demand.Step is { } step ? broken.At.Compare(step) : TimeOrder.Before;
        var orderUnknown = order == TimeOrder.CannotTell && doubts.Count == 0;
        if (order == TimeOrder.After) doubts.Add($"broken after {demand.StepWords}");
        if (order == TimeOrder.CannotTell) doubts.Add($"the clocks do not say whether it was broken before {demand.StepWords}");
        return new Break(broken, cylinder.Size, psi, doubts, orderUnknown, tooYoung);
    }

    /// <summary>
    /// Which breaks may be judged together: all of them, or those from a moment on that lies long enough after every low break
    /// left out. Leaving out a break that is not low never helps, so taking away a good one never makes a set pass.
    /// </summary>
    private static IEnumerable<List<Break>> Rounds(List<Break> breaks, SetDemand demand)
    {
        var rounds = new List<(int LowLeftOut, List<Break> Breaks)>();
        for (var i = 0; i < breaks.Count; i++)
        {
            var from = breaks[i].Broken.At.At;
            var leftOutLow = breaks.FindAll(b => b.Broken.At.At < from && b.IsLow(demand.RequiredPsi));
            // A later break never replaces a test at its age.
            if (leftOutLow.Count > 0 && demand.AgeDays is not null) continue;
            if (leftOutLow.TrueForAll(b => from - b.Broken.At.At >= WaitedAtLeast)) rounds.Add((leftOutLow.Count, breaks.FindAll(b => b.Broken.At.At >= from)));
        }

        // The newest round first, and of one round as many of its breaks as there are.
        return rounds.OrderByDescending(r => r.LowLeftOut).ThenByDescending(r => r.Breaks.Count).Select(r => r.Breaks);
    }

    private static CylinderSet Round(Matter matter, List<Break> breaks, SetDemand demand)
    {
        var valid = breaks.FindAll(b => b.Doubts.Count == 0);
        var counted = breaks.FindAll(b => b.Psi is not null && (b.Doubts.Count == 0 || b.IsLow(demand.RequiredPsi)));
        var strengths = counted.Select(b => b.Psi!.Value).ToList();
        var mean = strengths.Count == 0 ? 0 : Strength.MeanPsi(strengths, matter.Rounding);
        var observed = strengths.Count == 0 ? "" : $"{string.Join(", ", strengths.Select(Matter.Text))} psi, mean {Matter.Text(mean)} psi";
        var used = counted.Select(b => b.Broken.Id).ToList();
        var doubtful = counted.Count - valid.Count;
        var range = mean > 0 ? Range(counted, strengths) : "";
        var kept = doubtful > 0 ? $" {doubtful} low result{(doubtful > 1 ? "s" : "")} of a faulty test kept, because a low result is not dropped for it." : "";
        if (strengths.Count > 0 && mean < demand.RequiredPsi)
            return new(Verdict.NotMet, $"Mean of {strengths.Count} cylinders {Matter.Text(mean)} psi, {Matter.Text(demand.RequiredPsi)} psi required.{kept}{range}", observed, null, used, []) { MeanPsi = strengths.Count == 0 ? null : mean };
        if (valid.Count >= demand.Cylinders)
            return new(Verdict.Met, $"Mean of {strengths.Count} cylinders {Matter.Text(mean)} psi, {Matter.Text(demand.RequiredPsi)} psi required.{kept}{range}", observed, null, used, []) { MeanPsi = strengths.Count == 0 ? null : mean };
        var unknown = breaks.Count(b => b.OrderUnknown);
        return valid.Count + unknown >= demand.Cylinders
            ? new(Verdict.CannotTell, $"The clocks do not say whether the cylinders were broken before {demand.StepWords}.", observed, null, used, [])
            : new(Verdict.Missing, $"{valid.Count} of {demand.Cylinders} valid cylinders{Why(breaks)}.", observed, null, used, []) { MeanPsi = strengths.Count == 0 ? null : mean };
    }

    private static string Why(List<Break> breaks)
    {
        var doubts = breaks.SelectMany(b => b.Doubts).Distinct(StringComparer.Ordinal).Order(StringComparer.Ordinal).ToList();
        return doubts.Count == 0 ? "" : ": " + string.Join("; ", doubts);
    }

    // Companions far apart say something of the test, nothing of the concrete: a remark, never a verdict.
    private static string Range(List<Break> counted, List<decimal> strengths)
    {
        var sizes = counted.Select(b => b.Size).Distinct(StringComparer.Ordinal).ToList();
        if (sizes.Count != 1 || Strength.AcceptableRangePct(sizes[0], madeInField: true, strengths.Count) is not { } acceptable) return "";
        var range = Strength.RangePct(strengths);
        return range > acceptable ? $" Their range is {Matter.Text(decimal.Round(range, 1))} % of the mean, above the acceptable {Matter.Text(acceptable)} %: look at the test." : "";
    }

    // Not enough yet: pending while the step was not taken and enough cylinders, or the age, can still come.
    private static CylinderSet Wait(Matter matter, CylinderSet set, Entry<SampleTested> sample, SetDemand demand, int cast, List<Break> breaks)
    {
        var left = cast - breaks.Count + breaks.Count(b => b.Doubts.Count == 0);
        if (demand.Step is not null || left < demand.Cylinders) return set;
        if (demand is not { AgeDays: { } days, AgeWindowHours: { } window }) return set with { Verdict = Verdict.Pending };
        var due = Evidence.Later(sample.Clocked(sample.Fact.MouldedAt).At, TimeSpan.FromTicks((long)Math.Min((days * 24 + window) * TimeSpan.TicksPerHour, long.MaxValue / 2)));
        return matter.HasCome(due) ? set : set with { Verdict = Verdict.Pending, Due = due };
    }

    /// <summary>The set as a finding against a strength that the drawing states.</summary>
    public Finding Finding(IRequirement requirement, Matter matter, string subject, Entry<DrawingApproved> drawing, Reading requiredPsi, string clear) =>
        Matter.Finding(requirement, subject, Verdict, Reason, Evidence.Of(drawing)) with
        {
            Limit = $"at least {requiredPsi.Text} psi",
            LimitConfirmed = true,
            Observed = Observed,
            Rounding = matter.StepText("each and their mean", Strength.ReportStepPsi, "psi"),
            Clear = Verdict == Verdict.Met ? "" : clear,
            Due = Due,
            Used = [drawing.Id, .. Used],
            SetAside = SetAside,
        };

    /// <summary>Fewest cylinders by the profile; null when it does not say.</summary>
    public static int? Fewest(Matter matter, string key) => matter.Limit(key) is { } limit ? (int)Math.Ceiling(Math.Clamp(limit.Value.Value, 1, 100)) : null;
}
