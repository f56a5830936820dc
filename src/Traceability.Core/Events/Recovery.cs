using System.ComponentModel;
using Traceability.Core.Dossiers;
using Traceability.Core.Records;

namespace Traceability.Core.Events;

/// <summary>
/// A lost administrator was recovered on the machine that holds the service's settings: nobody of the plant signed for it, and the record names no author.
/// </summary>
[Fact("administrator.recovered", 1, Kind = FactKind.Act, Role = Roles.Administrator, Summary = "A lost administrator was recovered on the machine, with a new first password.")]
public sealed record AdministratorRecovered(
    [Identity("person")] string Person,
    [Description("Whether the person was not in the register before.")] bool BroughtIn,
    [Description("Why, in the words of whoever did it."), Longest(300)] string Reason) : IAccountChange
{
    /// <summary>Where is found what was done on the machine, signed by nobody.</summary>
    public static readonly Subject Recoveries = new("recovery", "administrator");

    public string Words => $"recovered the administrator {Person} on the machine{(BroughtIn ? ", brought in anew" : "")}, with a new first password. Reason given: {Reason}";

    public IEnumerable<Link> Links() => [Link.About(Recoveries)];
}
