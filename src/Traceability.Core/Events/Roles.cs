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
    public const string Administrator = "administrator";
    public const string Auditor = "auditor";

    public static readonly IReadOnlyList<string> All =
        [QualityEngineer, PlantInspector, Receiving, CageCrew, FormCrew, BatchOperator, Laboratory, PourCrew, Yard, Shipping, Administrator, Auditor];
}
