using System.Net;
using System.Net.Http.Json;

namespace Traceability.PlantSimulator.Acting;

/// <summary>The first thing a person of a new installation does: signs in with the first password and chooses an own password and PIN.</summary>
public static class OwnSecrets
{
    /// <summary>Everybody of a new installation does it.</summary>
    /// <inheritdoc cref="ChooseAsync"/>
    public static Task ChooseAllAsync(Uri service, Credentials credentials, CancellationToken cancel) =>
        Parallel.ForEachAsync(credentials.People, new ParallelOptions { MaxDegreeOfParallelism = 4, CancellationToken = cancel }, async (person, stop) => await ChooseAsync(service, person, stop));

    /// <summary>Chooses them.</summary>
    /// <exception cref="RefusedException">The service does not take the first password, or the chosen secrets.</exception>
    public static async Task ChooseAsync(Uri service, PersonCredential person, CancellationToken cancel)
    {
        using var http = new HttpClient(new SocketsHttpHandler { CookieContainer = new CookieContainer(), AllowAutoRedirect = false }) { BaseAddress = service, Timeout = TimeSpan.FromSeconds(60) };
        using var signedIn = await http.PostAsJsonAsync("v1/sign-in", new { person = person.Id, password = person.FirstPassword }, cancel);
        if (!signedIn.IsSuccessStatusCode) throw new RefusedException($"{person.Id} cannot sign in to choose own secrets: {(int)signedIn.StatusCode} {await signedIn.Content.ReadAsStringAsync(cancel)}");
        using var chosen = await http.PostAsJsonAsync($"v1/people/{person.Id}/own-secrets", new { password = person.FirstPassword, newPassword = person.Password, newPin = person.Pin }, cancel);
        if (!chosen.IsSuccessStatusCode) throw new RefusedException($"{person.Id} cannot choose own secrets: {(int)chosen.StatusCode} {await chosen.Content.ReadAsStringAsync(cancel)}");
    }
}
