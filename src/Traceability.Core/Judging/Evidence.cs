using Traceability.Core.Dossiers;
using Traceability.Core.Events;
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
        HoldKind.Tying => file.Last<CloseUpInspected>() is not null || Passed(file, HoldKind.CloseUp),
        HoldKind.CloseUp => file.Last<PrePourInspected>() is not null || Passed(file, HoldKind.Pour),
        HoldKind.Pour or HoldKind.Place => file.Placements.Any() || Passed(file, HoldKind.Strip),
        HoldKind.Strip => file.Of<UnitStripped>().Any() || Passed(file, HoldKind.Ship),
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

    /// <summary>One finding per instrument a record names; a record that names none leaves its readings without proof.</summary>
    public static IEnumerable<Finding> Instruments(IRequirement requirement, Matter matter, string subject, IReadOnlyList<string>? instruments, Moment at, Guid record, Citation source, decimal? largestErrorPct = null)
    {
        if (instruments is null or { Count: 0 })
        {
            yield return Matter.Finding(requirement, subject, Verdict.Missing, "The record names no instrument.", source)
                with { Clear = "Who made the record corrects it, naming the instruments.", Used = [record] };
            yield break;
        }

        foreach (var instrument in instruments.Distinct(StringComparer.Ordinal))
        {
            var check = matter.InCalibration(instrument, at.At, largestErrorPct);
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

    public static string Sentence(string words) => char.ToUpperInvariant(words[0]) + words[1..] + ".";
}
