using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging.Holds;
using Traceability.Core.Profiles;
using Traceability.Core.Records;

namespace Traceability.Core.Judging;

/// <summary>What the requirements share: evidence that is absent, people and instruments behind a record, recorded sources.</summary>
internal static class Evidence
{
    /// <summary>
    /// A finding that a record is absent: pending while the step that needs it can still be waited with, missing once that
    /// step or a later one was taken. Neither ever allows the step.
    /// </summary>
    public static Finding Absent<T>(IRequirement requirement, Matter matter, string subject, string reason, string clear, Citation source) where T : IFact =>
        Matter.Finding(requirement, subject, Passed(matter.File, requirement.Hold) ? Verdict.Missing : Verdict.Pending, reason, source)
            with { Clear = clear, SetAside = matter.Unused<T>() };

    /// <summary>
    /// The finding that the profile does not ask for something: it has no limit under the key, or one of 0 where only whether it
    /// is asked is stated. Without a profile nobody can say so.
    /// </summary>
    public static Finding NotAsked(IRequirement requirement, Matter matter, string subject, string key, Citation source) =>
        matter.Profile is not { } profile || matter.Lifted(key) is not null ? matter.NoLimit(requirement, subject, key)
            : Matter.Finding(requirement, subject, Verdict.NotApplicable, $"The profile {profile.Fact.About.Id} asks no '{key}'.", source) with { Used = [profile.Id] };

    /// <summary>
    /// A finding where a record that a profile may ask for is absent: not applicable when the profile in force does not ask
    /// for it by its key, else as <see cref="Absent{T}"/>.
    /// </summary>
    public static Finding AbsentWhereAsked<T>(IRequirement requirement, Matter matter, string subject, string key, string reason, string clear, Citation source) where T : IFact
    {
        if (matter.Limit(key) is { } limit)
            return Absent<T>(requirement, matter, subject, reason, clear, limit.Source) with { Limit = limit.Printed, LimitConfirmed = limit.ConfirmedBy is not null };
        return NotAsked(requirement, matter, subject, key, source);
    }

    public static Finding NoDrawing(IRequirement requirement, Matter matter, Citation source) =>
        Matter.Finding(requirement, matter.File.Unit.Key, Verdict.Missing, "The approved drawing revision of this unit is not recorded.", source)
            with { Clear = "The quality engineer records the approval of the drawing.", SetAside = matter.Unused<DrawingApproved>() };

    /// <summary>Inspections before closing and before the pour are hold points of plants' quality plans.</summary>
    public static readonly Citation CloseUp = new("Hold point before the form closes", SourceMark.CommonPractice);

    public static readonly Citation PrePour = new("Hold point before the pour", SourceMark.CommonPractice);

    public static readonly Citation PlantInspection = new("Inspection by a certified inspector who is not of the crew", SourceMark.CommonPractice);

    /// <summary>A result counts when every device used was in calibration when it was used.</summary>
    public static readonly Citation Calibration = new("Instruments in calibration when used", SourceMark.CommonPractice);

    public static Finding NoCloseUp(IRequirement requirement, Matter matter) =>
        Absent<CloseUpInspected>(requirement, matter, matter.File.Unit.Key, "The close-up inspection has not been recorded.", "The plant inspector inspects before the form closes.", CloseUp);

    public static Finding NoPrePour(IRequirement requirement, Matter matter) =>
        Absent<PrePourInspected>(requirement, matter, matter.File.Unit.Key, "The inspection before the pour has not been recorded.", "The plant inspector inspects the closed form.", PrePour);

    /// <summary>Whether the step a hold stands before, or any later one, was taken.</summary>
    public static bool Passed(UnitFile file, HoldKind hold) => hold switch
    {
        HoldKind.Tying => Steps.Now(HoldKind.Tying, file) is not null || Passed(file, HoldKind.CloseUp),
        HoldKind.CloseUp => file.Last<PrePourInspected>() is not null || Passed(file, HoldKind.Pour),
        HoldKind.Pour or HoldKind.Place => file.Placements.Any() || Passed(file, HoldKind.Strip),
        HoldKind.Strip => file.Of<UnitStripped>().Any() || Passed(file, HoldKind.Ship),
        HoldKind.Ship => Steps.Now(HoldKind.Ship, file) is not null,
        _ => file.Of<UnitShipped>().Any(),
    };

    public static Citation Of(Entry<DrawingApproved> drawing) =>
        new($"Drawing {drawing.Fact.Drawing}, approval {drawing.Fact.ApprovalDocument}", SourceMark.Recorded, $"revision {drawing.Fact.Revision}");

    public static Citation Of(Entry<MixApproved> mix) =>
        new($"Mix {mix.Fact.Mix}, approval {mix.Fact.ApprovalDocument}", SourceMark.Recorded);

    /// <summary>Whether the person who made a record held a certification on that day.</summary>
    public static Finding Certified(IRequirement requirement, Matter matter, string subject, string? person, Certification certification, Moment at, Guid record, Citation source)
    {
        var check = matter.Certified(person, certification, at);
        return Matter.Finding(requirement, subject, Of(check), Sentence(check.Words), source) with
        {
            Observed = person ?? "",
            Clear = check.Valid ? "" : "The quality engineer reads in the certificate, or a certified person repeats the work.",
            Used = check.Record is { } certificate ? [record, certificate] : [record],
            SetAside = matter.Unused<PersonCertified>(),
        };
    }

    /// <summary>Whether an inspector is not of the crew that tied the cage. Without the cage's record nobody can say.</summary>
    public static Finding NotOfCrew(IRequirement requirement, Matter matter, string subject, string? person, Guid record)
    {
        var cage = matter.File.Cage;
        var (verdict, reason) = (cage, person) switch
        {
            (null, _) => (Verdict.Missing, "The crew that tied the cage is not recorded."),
            (_, null) => (Verdict.Missing, "The record names no inspector."),
            ({ } c, { } p) when c.Fact.Crew.Contains(p) || c.Person == p => (Verdict.NotMet, $"{p} is of the crew that tied cage {c.Fact.Cage}."),
            _ => (Verdict.Met, $"{person} is not of the crew that tied the cage."),
        };
        return Matter.Finding(requirement, subject, verdict, reason, PlantInspection) with
        {
            Observed = person ?? "",
            Clear = verdict == Verdict.Met ? "" : "Another certified inspector inspects.",
            Used = cage is null ? [record] : [record, cage.Id],
        };
    }

    public static Finding NoPlacement(IRequirement requirement, Matter matter, Citation source) =>
        Absent<PourPlaced>(requirement, matter, matter.File.Unit.Key, "No concrete is recorded in this unit yet.", "The pour crew records the placement: which batch into which unit.", source);

    /// <summary>
    /// One answer per batch that is in the unit, and a missing one for every batch whose ticket is not here. No placement at
    /// all is pending before the pour and missing after.
    /// </summary>
    public static IEnumerable<Finding> PerBatch(IRequirement requirement, Matter matter, Citation source, Func<Entry<BatchTicketed>, IEnumerable<Finding>> judge)
    {
        var batches = matter.File.BatchSubjects;
        if (batches.Count == 0)
        {
            yield return NoPlacement(requirement, matter, source);
            yield break;
        }

        var tickets = matter.File.Batches.ToLookup(b => b.Fact.About);
        foreach (var batch in batches.Order())
        {
            if (!tickets.Contains(batch))
            {
                yield return Matter.Finding(requirement, batch.Key, Verdict.Missing, $"Batch {batch.Id} is in the unit and its ticket is not recorded.", source)
                    with { Clear = "The batch operator sends the ticket.", SetAside = matter.Unused<BatchTicketed>() };
            }

            foreach (var finding in tickets[batch].SelectMany(judge)) yield return finding;
        }
    }

    /// <summary>
    /// One answer per sample of concrete that is in the unit. None is pending before the pour and missing after; which batch
    /// a sample stands for is <c>place.represented</c>.
    /// </summary>
    public static IEnumerable<Finding> PerSample(IRequirement requirement, Matter matter, Citation source, Func<Entry<SampleTested>, IEnumerable<Finding>> judge)
    {
        var samples = matter.File.RepresentingSamples.ToList();
        if (samples.Count == 0)
            yield return Absent<SampleTested>(requirement, matter, matter.File.Unit.Key, "No test of the fresh concrete in this unit is recorded.", "The laboratory records the sample.", source);
        foreach (var finding in samples.SelectMany(judge)) yield return finding;
    }

    /// <summary>The rejection of the load a sample is of; null when that load was not rejected.</summary>
    public static Entry<LoadRejected>? Rejected(Matter matter, Entry<SampleTested> sample) =>
        matter.File.Of<LoadRejected>().FirstOrDefault(r => r.Fact.Batch == sample.Fact.Batch);

    /// <summary>Whether a sample's results may stand for the concrete: its load not rejected, its tester certified
    /// and its instruments in calibration then.</summary>
    public static IReadOnlyList<string> Doubts(Matter matter, Entry<SampleTested> sample)
    {
        var doubts = new List<string>();
        if (Rejected(matter, sample) is { } rejected) doubts.Add($"its load was rejected: {rejected.Fact.Reason}");
        if (matter.Certified(sample.Person, Certification.FieldTestingTechnician, sample.At) is { Valid: false } tester) doubts.Add(tester.Words);
        if (sample.Fact.Instruments.Count == 0) doubts.Add("it names no instrument");
        doubts.AddRange(sample.Fact.Instruments.Select(i => matter.InCalibration(i, sample.At.At)).Where(c => !c.Valid).Select(c => c.Words));
        return doubts;
    }

    /// <summary>The approval of a mix in force on a day, the newest of several; null when none was.</summary>
    public static Entry<MixApproved>? MixInForce(Matter matter, string? mix, DateOnly day) =>
        matter.File.Of<MixApproved>().Where(m => m.Fact.Mix == mix && m.Fact.ApprovedOn <= day && (m.Fact.ValidThrough is null || day <= m.Fact.ValidThrough))
            .OrderBy(m => m.Fact.ApprovedOn).LastOrDefault();

    /// <summary>The day the unit is or will be poured; null when neither a pour nor a schedule says.</summary>
    public static DateOnly? PourDay(UnitFile file) =>
        file.Placements.Select(p => (DateOnly?)Matter.DayOf(p.Pour.Fact.StartedAt)).Min() ?? file.Scheduled?.Fact.PourOn;

    /// <summary>A moment some time later; the end of time when there is none.</summary>
    public static DateTimeOffset Later(DateTimeOffset from, TimeSpan by) =>
        DateTimeOffset.MaxValue - from > by ? from + by : DateTimeOffset.MaxValue;

    /// <summary>One finding per instrument a record names; a record that names none leaves its readings without proof.</summary>
    public static IEnumerable<Finding> Instruments(IRequirement requirement, Matter matter, string subject, IReadOnlyList<string>? instruments, Moment at, Guid record, Citation source)
    {
        if (instruments is null or { Count: 0 })
        {
            yield return Matter.Finding(requirement, subject, Verdict.Missing, "The record names no instrument.", source)
                with { Clear = "Who made the record corrects it, naming the instruments.", Used = [record] };
            yield break;
        }

        foreach (var instrument in instruments.Distinct(StringComparer.Ordinal))
        {
            var check = matter.InCalibration(instrument, at.At);
            yield return Matter.Finding(requirement, $"{subject} {instrument}", Of(check), Sentence(check.Words), source) with
            {
                Observed = instrument,
                Clear = check.Valid ? "" : "The quality engineer reads in the calibration, or the readings are taken again with another instrument.",
                Used = check.Record is { } calibration ? [record, calibration] : [record],
                SetAside = matter.Unused<InstrumentCalibrated>(),
            };
        }
    }

    /// <summary>Nothing recorded is missing; a certificate that does not cover the day is not met.</summary>
    public static Verdict Of(CertificateCheck check) => check.Valid ? Verdict.Met : check.Record is null ? Verdict.Missing : Verdict.NotMet;

    // The id of a person or an instrument stays as it is written.
    public static string Sentence(string words) => (words.Split(' ')[0].All(char.IsLetter) ? char.ToUpperInvariant(words[0]) + words[1..] : words) + ".";
}
