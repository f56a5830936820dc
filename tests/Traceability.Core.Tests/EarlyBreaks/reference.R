# Reference values of EarlyWarningTests, ControlTests and MaturityTests, computed with R 4.2.2 (Debian 12). Rscript reference.R
options(digits = 15)
for (n in 2:10) { # range of n normal values: mean and deviation
  d2 <- integrate(function(w) 1 - ptukey(w, n, Inf), 0, Inf, rel.tol = 1e-10)$value
  e2 <- integrate(function(w) 2 * w * (1 - ptukey(w, n, Inf)), 0, Inf, rel.tol = 1e-10)$value
  cat(n, d2, sqrt(e2 - d2^2), "\n")
}
foretell <- function(x, y, at, design) {
  m <- lm(y ~ x)
  p <- predict(m, data.frame(x = at), se.fit = TRUE)
  print(predict(m, data.frame(x = at), interval = "prediction", level = 0.90))
  cat("chance", pt((design - p$fit) / sqrt(p$se.fit^2 + p$residual.scale^2), m$df.residual), "\n")
}
# I-C. Yeh, Concrete Compressive Strength, UCI Machine Learning Repository (CC BY 4.0): 23 superplasticized mixes, 7 and 28 days, MPa
foretell(
  c(46.20,42.80,49.20,46.80,45.70,55.60,54.90,49.20,34.90,46.90,49.20,33.40,54.10,55.90,49.80,47.10,55.90,38.00,55.90,56.10,59.09,22.90,35.10),
  c(61.09,59.80,60.29,61.80,56.70,68.30,66.90,60.29,50.70,56.40,60.29,55.50,68.50,71.30,74.70,52.20,71.30,67.70,71.30,66.00,74.50,71.30,49.90),
  c(30, 40, 50, 60), 55)
foretell( # an invented plant, psi
  c(3650,3460,3820,3750,4010,3770,3280,3550,4070,4040,3740,3600,3700,3590,3610,3640,3890,3590,3570,3530),
  c(5990,5470,6130,6050,6190,5720,5500,5730,5930,6370,5780,5820,5540,5250,5790,5550,5870,5780,5450,5370),
  c(3000, 3600, 4200), 5500)
v <- c(5410,5290,5120,4880,4960,5230,4480,5640,5350,5190,5070,4940)
r <- mean(abs(diff(v)))
cat(mean(v), r, mean(v) - 3 * r / 1.128, mean(v) + 3 * r / 1.128, "\n")
m <- lm(s ~ log(t), data.frame(t = c(480,1500,3600,7200,14400), s = c(1980,3450,4480,5290,6010)))
cat(coef(m), summary(m)$sigma, predict(m, data.frame(t = c(1000, 2000, 5000))), exp((4000 - coef(m)[1]) / coef(m)[2]), "\n")
