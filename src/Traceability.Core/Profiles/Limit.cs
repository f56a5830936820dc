using System.ComponentModel;
using Traceability.Core.Events;
using Traceability.Core.Quantities;

namespace Traceability.Core.Profiles;

/// <summary>
/// How sure a figure is: seen in a publication, from memory, habit of the trade without a document, or stated by an
/// approved document whose record is in this log (a drawing, a mix approval).
/// </summary>
public enum SourceMark { Published, Memory, CommonPractice, Recorded }

/// <summary>Where a limit comes from.</summary>
public sealed record Citation(
    [Description("Standard, specification or letter.")] string Document,
    [Description("How sure the figure is.")] SourceMark Mark,
    [Longest(40)] string? Edition = null,
    [Longest(100)] string? Clause = null)
{
    public override string ToString() =>
        string.Join(", ", new[] { Document, Edition, Clause }.Where(s => s is not null)) + " [" + Mark switch
        {
            SourceMark.Published => "published",
            SourceMark.Memory => "from memory",
            SourceMark.Recorded => "as recorded here",
            _ => "common practice, no source",
        } + "]";
}

/// <summary>The rank of a document a limit stands in, strongest first; the order itself is the agency's.</summary>
public enum LimitRank { SpecialProvision, Plan, SupplementalSpecification, StandardDrawing, StandardSpecification, ProductStandard, GeneralStandard, PlantPlan }

/// <summary>One limit of a profile.</summary>
public sealed record Limit(
    [Description("What is limited, for example \"cover.reduction.soffit\"; requirements ask for it by this name."), Longest(100)] string Key,
    [Description("The figure in the unit.")] Reading Value,
    [Description("Unit of the figure: \"in\", \"psi\", \"pct\", \"F\", \"F/h\", \"min\", \"days\", \"ratio\"."), Longest(20)] string Unit,
    [Description("The limit as the document prints it.")] string Printed,
    Citation Source,
    [Description("Rank of the document it stands in.")] LimitRank Rank,
    [Description("Person who checked it against a page of the document; left out while unconfirmed. An unconfirmed limit stops a packet, not a pour."), Identity("person")] string? ConfirmedBy = null,
    DateOnly? ConfirmedOn = null,
    [Description("The page it was checked against."), Longest(100)] string? ConfirmedPage = null);

/// <summary>How an observed value is rounded to the digits of its limit before they are compared.</summary>
public enum RoundingRule
{
    /// <summary>Rounding method of ASTM E29 / AASHTO R 11: exact halves go to the even digit.</summary>
    HalfEven,
    /// <summary>Exact halves go up.</summary>
    HalfUp,
    Truncate,
    /// <summary>Absolute method: compared as observed.</summary>
    Absolute,
}
