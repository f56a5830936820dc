namespace Traceability.Core.Events;

/// <summary>Station roles, in the words of the plant.</summary>
public static class Roles
{
    public const string QualityEngineer = "quality-engineer";
    public const string PlantInspector = "plant-inspector";
    public const string Receiving = "receiving";
    public const string CageCrew = "cage-crew";
    public const string FormCrew = "form-crew";
    public const string BatchOperator = "batch-operator";
    public const string Laboratory = "laboratory";
    public const string PourCrew = "pour-crew";
    public const string Yard = "yard";
    public const string Shipping = "shipping";

    /// <summary>Whom the plant's quality plan names as second person, beside the quality engineers; may be a consultant.</summary>
    public const string SecondApprover = "second-approver";

    /// <summary>The highway agency's own inspector, with an account of their own.</summary>
    public const string AgencyInspector = "agency-inspector";

    public const string Administrator = "administrator";
    public const string Auditor = "auditor";

    public static readonly IReadOnlyList<string> All =
        [QualityEngineer, PlantInspector, Receiving, CageCrew, FormCrew, BatchOperator, Laboratory, PourCrew, Yard, Shipping, SecondApprover, AgencyInspector, Administrator, Auditor];

    /// <summary>Roles whose work a decision lets go on. Who holds one of them is never the second approver.</summary>
    public static readonly IReadOnlyList<string> Production = [CageCrew, FormCrew, BatchOperator, PourCrew, Yard];

    /// <summary>Roles that decide, or say yes as the second. To get one, or a new first password while holding one, takes a second person.</summary>
    public static readonly IReadOnlyList<string> Deciding = [QualityEngineer, PlantInspector, SecondApprover, AgencyInspector];

    /// <summary>Roles that nobody holds beside another: who looks over the plant or keeps its keys does not also work in it.</summary>
    public static readonly IReadOnlyList<string> Alone = [AgencyInspector, Administrator, Auditor];
}
