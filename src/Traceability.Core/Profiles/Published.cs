using System.ComponentModel;
using Traceability.Core.Events;

namespace Traceability.Core.Profiles;

/// <summary>The edition of a document, or another way in which agencies differ, that a profile chose.</summary>
public sealed record EditionChoice(
    [Description("What is chosen, for example \"astm-c94\"."), Longest(40)] string Name,
    [Description("What it is, for example \"21a\"."), Longest(40)] string Value);

/// <summary>A requirement, or a limit of one, that a document of the contract lifts.</summary>
public sealed record NotAsked(
    [Description("The id of a requirement or the key of a limit; \"@\" and a product when it is lifted for that product alone."), Longest(100)] string What,
    [Description("As the document prints it.")] string Printed,
    Citation Source,
    [Description("Rank of the document it stands in.")] LimitRank Rank);

/// <summary>Why a stated figure is not the limit.</summary>
public enum OverruledWhy
{
    /// <summary>A document of a stronger rank states another.</summary>
    Precedence,
    /// <summary>It stands in an approved shop drawing and is not as tight as the limit.</summary>
    LooserShopDrawing,
    /// <summary>The plant's own figure is no longer tighter than the limit.</summary>
    PlanOvertaken,
}

/// <summary>A figure that was stated and is not the limit.</summary>
public sealed record Overruled(
    Limit Stated,
    OverruledWhy Why,
    [Description("The shop drawing it stands in."), Identity("drawing")] string? Drawing = null);
